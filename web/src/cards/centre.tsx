// The workpiece, large: in space, as the picture of a step, as the picture of a check, or the sheet to print.
import { useEffect, useRef, useState } from "preact/hooks";
import { effect, useSignalEffect } from "@preact/signals";
import type { Carving } from "../model/carving";
import { amount } from "../model/amounts";
import { readGlb } from "../model/glb";
import { carvedAt, modelAt } from "../model/making";
import { type Painting, painting, share } from "../model/painted";
import { carving, filming, leaveCarving, seconds, watchCarving } from "../model/watching";
import { SIZE, check, files, frame, job, other, picture, plan, step, tried, units, view } from "../model/state";
import { Beside } from "./beside";
import { Handles } from "./handles";
import { Player, gradient, playerKey } from "./player";
import { type Stage, stage } from "../view/stage";
import * as ask from "../wire/ask";
import { filmOf, packBytes, packFile } from "../wire/ask";
import type { MapView } from "../wire/wire";

export function Centre() {
  const [turned, setTurned] = useState<number | null>(null);
  const [first, setFirst] = useState<Stage | null>(null);
  const now = view.value;
  const doc = plan.value;
  const id = job.value!.id;
  const chosen = doc?.checks.find((one) => one.id === check.value);
  const model = doc && now === "route" ? modelAt(doc, files.value.map((file) => file.path), step.value) : null;
  const [painted, setPainted] = useState(false);
  const [map, setMap] = useState<Painting | null>(null);
  const mapped = now === "proof" && chosen?.picture ? chosen.id : null;
  useEffect(() => {
    setMap(null);
    // Of checks without a map there is a drawing, and that is all.
    if (mapped !== null) void ask.mapOf(id, mapped).then((view) => { if (check.peek() === mapped) setMap(painting(view)); }, () => undefined);
  }, [mapped, doc]);
  const paint = painted && mapped !== null ? map : null;
  const carved = doc && now === "route" ? carvedAt(doc, step.value) : null;
  const watched = carved !== null && carving.value?.setup === carved ? carving.value.of : null;
  useEffect(leaveCarving, [carved, doc]);
  const inSpace = watched !== null || now === "shape" || (now === "proof" && (!chosen?.picture || paint !== null)) || (now === "route" && (!frame.value || (model !== null && turned === step.value)));
  const at = now === "proof" && (!chosen?.picture || paint !== null) ? (chosen?.where?.at ?? null) : null;
  return (
    <section class={`centre${now === "shape" && other.value ? " two" : ""}${watched ? " watching" : ""}`} aria-label="The workpiece" onKeyDown={watched ? playerKey : undefined}>
      <InSpace ready={setFirst} hidden={!inSpace} carved={watched} model={now === "route" && turned === step.value ? model : null} at={at} paint={paint} />
      {now === "shape" && other.value && first && <Beside with={first} />}
      {now === "route" && frame.value && !inSpace && (
        <img class="shot" src={packFile(id, frame.value.picture)} alt={`The workpiece after “${frame.value.title}”`} />
      )}
      {paint && <Legend of={paint.view} />}
      {map && mapped !== null && (
        <p class="over row above">
          <button type="button" aria-pressed={painted} onClick={() => setPainted(!painted)}>{painted ? "Show the drawing" : "Paint it on the piece"}</button>
        </p>
      )}
      {now === "proof" && chosen?.picture && paint === null && (
        <img class="drawing" src={packFile(id, chosen.picture)} alt={`Where “${chosen.title}” is worst, with its scale`} />
      )}
      {now === "papers" && doc && filming.value && <Film id={id} />}
      {now === "papers" && doc && !filming.value && <iframe class="sheet" title="The shop sheet" src={packFile(id, "shop-sheet.html")} sandbox="" />}
      {now === "papers" && !doc && <p class="empty">The shop sheet comes with the plan.</p>}
      {watched && <Player of={watched} />}
      {!watched && (model !== null || carved !== null) && (
        <p class="over row">
          {carved !== null && <button type="button" disabled={carving.value?.setup === carved} onClick={() => void watchCarving(carved)}>{carving.value?.setup === carved ? "Setting it up …" : "Watch it carved"}</button>}
          {model !== null && (
            <button type="button" aria-pressed={turned === step.value} onClick={() => setTurned(turned === step.value ? null : step.value)}>
              {turned === step.value ? "Show the picture" : "Turn it in space"}
            </button>
          )}
        </p>
      )}
    </section>
  );
}

/** The scale of what is painted, with the limit on it. */
function Legend({ of }: { of: MapView }) {
  const told = (value: number) => amount(value, of.unit, units.value);
  return (
    <div class="legend afloat">
      <p><b>{of.title}</b></p>
      <div class="scale" role="img" aria-label={`From ${told(of.range[0]!)}, dark, to ${told(of.range[1]!)}, light${of.limit != null ? `; the limit is ${told(of.limit)}` : ""}`} style={{ background: gradient(of.scale) }}>
        {of.limit != null && <i style={{ left: `${100 * share(of, of.limit)}%` }} />}
      </div>
      <p class="ends"><span>{told(of.range[0]!)}</span>{of.limit != null && <span>limit {told(of.limit)}</span>}<span>{told(of.range[1]!)}</span></p>
    </div>
  );
}

/** The film takes some seconds to draw. */
function Film({ id }: { id: string }) {
  const [how, setHow] = useState<"drawn" | "there" | "failed">("drawn");
  return (
    <>
      <img class="shot" src={filmOf(id)} alt="The making, from boards to the finished piece" onLoad={() => setHow("there")} onError={() => setHow("failed")} hidden={how !== "there"} />
      {how !== "there" && <p class="empty" role="status">{how === "drawn" ? "The film is being drawn …" : "The film can’t be drawn. Plan the making again, then try once more."}</p>}
    </>
  );
}

interface InSpaceProps {
  hidden: boolean;
  /** A carving to be watched in the place of anything else. */
  carved: Carving | null;
  model: string | null;
  at: readonly number[] | null;
  paint: Painting | null;
  ready: (stage: Stage | null) => void;
}

function InSpace({ hidden, carved, model, at, paint, ready: tell }: InSpaceProps) {
  const within = useRef<HTMLDivElement>(null);
  const drawn = useRef<Stage | null>(null);
  const [able, setAble] = useState(true);
  const [ready, setReady] = useState<Stage | null>(null);
  useEffect(() => {
    drawn.current = stage(within.current!);
    setAble(drawn.current !== null);
    setReady(drawn.current);
    tell(drawn.current);
    const dark = matchMedia("(prefers-color-scheme: dark)");
    const night = () => drawn.current?.night(dark.matches);
    night();
    dark.addEventListener("change", night);
    return () => {
      dark.removeEventListener("change", night);
      drawn.current?.end();
    };
  }, []);
  const [before, setBefore] = useState(false);
  const pieceShown = useRef(false);
  const showPiece = () => {
    const shown = picture.value;
    if (!shown) {
      // Another job: what is shown belongs to the one that was left.
      drawn.current?.show([], []);
      pieceShown.current = false;
      setBefore(false);
    }
    if (!shown || shown.solids.length === 0) return;
    drawn.current?.show(shown.solids, shown.head.boards, pieceShown.current);
    pieceShown.current = true;
    setBefore(true);
  };
  useSignalEffect(() => {
    void picture.value;
    if (model === null && carved === null) showPiece();
  });
  useEffect(() => {
    const on = drawn.current;
    if (!on || carved === null) return;
    const scene = on.carve(carved, plan.value!.cutters);
    pieceShown.current = false;
    return effect(() => {
      scene.go(seconds.value);
      on.again();
    });
  }, [carved]);
  useEffect(() => {
    if (carved !== null) return;
    if (model === null) return showPiece();
    const id = job.value?.id;
    void tried(packBytes(id!, model)).then((bytes) => {
      if (!bytes || job.value?.id !== id) return;
      drawn.current?.show(readGlb(bytes), []);
      pieceShown.current = false;
    });
  }, [model, carved]);
  useEffect(() => {
    drawn.current?.mark(at);
    if (at) drawn.current?.fly(at);
  }, [at?.join()]);
  useEffect(() => drawn.current?.paint(paint), [paint]);
  const size = picture.value?.head.facts.find((fact) => fact.label === SIZE);
  return (
    <div class="space" hidden={hidden}>
      <div class="stage" ref={within} tabIndex={0} role="application" aria-label="The piece in space" aria-describedby="turning" />
      {view.value === "shape" && ready && <Handles of={ready} />}
      {!able && <p class="empty">This browser draws nothing in space. Everything else works; the pictures of the pack show the piece.</p>}
      {view.value === "route" && model === null && carved === null && <p class="before calm">What it will be; its boards are not glued yet.</p>}
      {picture.value?.solids.length === 0 && (
        <p class={before ? "before" : "empty"}>{before ? "As it was before: what is written now has no shape." : "What is written has no shape yet: see beside what is wrong."}</p>
      )}
      <p class="caption">
        {size && model === null && carved === null && <strong>{other.value && view.value === "shape" ? `${job.value!.title}, ${size.value}` : size.value}</strong>}
        <span id="turning">Drag it, or use the arrow keys; + and − come nearer, Home looks from the front.</span>
      </p>
      <button type="button" class="over" onClick={() => drawn.current?.reset()}>From the front</button>
    </div>
  );
}
