// What if the turning over were off by more or less, or the shop warmer or colder: the figures move as the sliders do.
import { useEffect } from "preact/hooks";
import { amount, digits } from "../model/amounts";
import { whatIf, wonder } from "../model/deciding";
import { plan, stale, units } from "../model/state";
import type { FlipErrors, FlipLeft } from "../wire/wire";
import { StateMark } from "./marks";

export function WhatIf() {
  useEffect(() => {
    whatIf.value = null;
    if (plan.value) void wonder({ errors: null, warmth_c: null });
  }, [plan.value]);
  const now = whatIf.value;
  if (!now || stale.value || (!now.flip && now.casts.length === 0)) return null;
  const ask = (errors: FlipErrors | null, warmth: [number, number]) => void wonder({ errors, warmth_c: warmth });
  return (
    <section class="group">
      <h2>What if</h2>
      {now.flip && <Flip flip={now.flip} go={(errors) => ask(errors, now.warmth_c)} />}
      {now.casts.length > 0 && (
        <>
          <Slide label="Shop by day" unit="°C" least={5} most={40} step={1} value={now.warmth_c[0]!} go={(day) => ask(now.flip?.errors ?? null, [day, now.warmth_c[1]!])} />
          <Slide label="Shop by night" unit="°C" least={5} most={40} step={1} value={now.warmth_c[1]!} go={(night) => ask(now.flip?.errors ?? null, [now.warmth_c[0]!, night])} />
          {now.casts.map((cast) => (
            <dl class="facts" key={cast.name} aria-live="polite">
              {!cast.warm_enough && <div><dt><StateMark state="fails" /> “{cast.name}”</dt><dd>too cold for its resin</dd></div>}
              <div><dt>Pot life of “{cast.name}”</dt><dd>{digits(cast.pot_life_min)} min</dd></div>
              <div><dt>Next layer</dt><dd>after {digits(cast.next_h[0]!)} to {digits(cast.next_h[1]!)} h</dd></div>
              <div><dt>To be carved</dt><dd>after {digits(cast.carve_h / 24)} days</dd></div>
            </dl>
          ))}
          <p class="source">By the resin’s sheet, scaled as the reaction goes (Arrhenius). What a layer’s own heat does is reckoned with the plan.</p>
        </>
      )}
    </section>
  );
}

function Flip({ flip, go }: { flip: FlipLeft; go: (errors: FlipErrors) => void }) {
  const { within_mm: within } = flip.errors;
  const axis = (k: number, label: string) => (
    <Slide label={label} unit="mm" least={0} most={1.5} step={0.01} value={within[k]!} go={(mm) => go({ ...flip.errors, within_mm: [0, 1, 2].map((j) => (j === k ? mm : within[j]!)) as [number, number, number] })} />
  );
  return (
    <>
      {axis(0, "Turned over, X off by")}
      {axis(1, "Y off by")}
      {axis(2, "Z off by")}
      <Slide label="Axes out of square" unit="mm/m" least={0} most={3} step={0.05} value={flip.errors.square_mm_m} go={(square) => go({ ...flip.errors, square_mm_m: square })} />
      <Slide label="Spindle leans" unit="mm/m" least={0} most={3} step={0.05} value={flip.errors.lean_mm_m} go={(lean) => go({ ...flip.errors, lean_mm_m: lean })} />
      <dl class="facts" aria-live="polite">
        {["Wall", "Floor"].map((name, k) => {
          const [left, least] = [flip.left_mm[k], flip.least_mm[k]];
          if (left == null) return null;
          return (
            <div key={name}>
              <dt>{least != null && <StateMark state={left >= least ? "holds" : "fails"} />} {name} left at worst</dt>
              <dd>{amount(left, "mm", units.value)} of {amount(flip.asked_mm[k]!, "mm", units.value)}{least != null && `, at least ${amount(least, "mm", units.value)}`}</dd>
            </div>
          );
        })}
      </dl>
    </>
  );
}

interface Slider { label: string; unit: string; least: number; most: number; step: number; value: number; go: (value: number) => void }

function Slide({ label, unit, least, most, step, value, go }: Slider) {
  const shown = unit === "mm" ? amount(value, unit, units.value) : `${digits(value)} ${unit}`;
  return (
    <div class="field">
      <span>{label}</span><b class="slid">{shown}</b>
      <input type="range" aria-label={label} aria-valuetext={shown} min={least} max={most} step={step} value={value} onInput={(event) => go(event.currentTarget.valueAsNumber)} />
    </div>
  );
}
