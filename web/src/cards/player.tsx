// What is pressed and read while a carving is watched: time, speed, blocks, the program's text, and the legend of the moves.
import { useEffect } from "preact/hooks";
import { digits, stopwatch } from "../model/amounts";
import { type Carving, FEED } from "../model/carving";
import { plan } from "../model/state";
import { SPEEDS, leaveCarving, passed, play, playing, seconds, shownMoment, speed, stepBlock, texts } from "../model/watching";

/** Lines of the program shown before and after the one that runs. */
const AROUND = 2;
/** The page was away for longer than this, s: nothing ran meanwhile. */
const AWAY = 0.25;

/** Space plays and stops, `,` and `.` go by blocks. */
export function playerKey(event: KeyboardEvent): void {
  const pressed = event.target as HTMLElement;
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === " " && !["BUTTON", "SELECT"].includes(pressed.tagName)) play(!playing.value);
  else if (event.key === ",") stepBlock(-1);
  else if (event.key === ".") stepBlock(1);
  else return;
  event.preventDefault();
}

export function Player({ of }: { of: Carving }) {
  const on = playing.value;
  useEffect(() => {
    if (!on) return;
    let [last, asked] = [performance.now(), 0];
    const tick = (now: number) => {
      passed(Math.min(AWAY, (now - last) / 1000));
      last = now;
      asked = requestAnimationFrame(tick);
    };
    asked = requestAnimationFrame(tick);
    return () => cancelAnimationFrame(asked);
  }, [on]);
  const k = shownMoment(of);
  const part = of.head.parts[of.part[k]!]!;
  const cutter = plan.value?.cutters.find((one) => one.number === part.cutter);
  const time = `${stopwatch(seconds.value)} of ${stopwatch(of.head.seconds)}`;
  return (
    <div class="player">
      <div class="row">
        <button type="button" class="main" onClick={() => play(!on)}>{on ? "Hold" : "Run"}</button>
        <button type="button" onClick={() => stepBlock(-1)} aria-label="One block back" aria-keyshortcuts=",">‹ Block</button>
        <button type="button" onClick={() => stepBlock(1)} aria-label="One block on" aria-keyshortcuts=".">Block ›</button>
        <label>Speed
          <select value={speed.value} onChange={(event) => { speed.value = Number(event.currentTarget.value); }}>
            {SPEEDS.map((times) => <option key={times} value={times}>{times === 1 ? "as it is" : `${times} times`}</option>)}
          </select>
        </label>
        <span class="time">{time}</span>
        <button type="button" class="leave" onClick={leaveCarving}>Show the picture</button>
      </div>
      <input
        type="range" min={0} max={of.head.seconds} step="any" value={seconds.value} aria-label="Time of the carving" aria-valuetext={time}
        onInput={(event) => { playing.value = false; seconds.value = event.currentTarget.valueAsNumber; }}
      />
      <div class="below">
        <Text file={part.file} line={of.line[k]!} name={of.head.files[part.file]!} />
        <div class="legend">
          <p><b>{cutter ? `T${cutter.number} ${cutter.name}` : `T${part.cutter}`}</b>{of.does[k] === FEED ? `, engaged ${digits((100 * of.engaged[k]!) / 255, 2)} % of its width` : ", in the air"}</p>
          <div class="scale" role="img" aria-label="Colours of the moves, from dark for nothing to light for the whole width of the cutter in the cut" style={{ background: gradient(of.head.scale) }} />
          <p class="ends"><span>0 %</span><span>width in the cut</span><span>100 %</span></p>
        </div>
      </div>
    </div>
  );
}

/** A scale from left to right. */
export const gradient = (scale: readonly (readonly number[])[]) => `linear-gradient(to right, ${scale.map(([r, g, b]) => `rgb(${r} ${g} ${b})`).join(", ")})`;

function Text({ file, line, name }: { file: number; line: number; name: string }) {
  const lines = texts.value[file];
  if (lines === undefined) return <pre class="block">{name}</pre>;
  if (lines === null) return <p class="block">{name}, line {line}. The text is withheld, because a check fails.</p>;
  const first = Math.max(1, Math.min(line - AROUND, lines.length - 2 * AROUND));
  const shown = lines.slice(first - 1, first + 2 * AROUND);
  return (
    <pre class="block" aria-label={`${name}, line ${line}`} tabIndex={0}>
      {shown.map((text, k) => {
        const number = first + k;
        const Line = number === line ? "mark" : "span";
        return <Line key={number}><i>{number}</i> {text}</Line>;
      })}
    </pre>
  );
}
