// The workpiece, large: in space, as the picture of a step, as the picture of a check, or the sheet to print.
import { useEffect, useRef, useState } from "preact/hooks";
import { useSignalEffect } from "@preact/signals";
import { readGlb } from "../model/glb";
import { modelAt } from "../model/making";
import { SIZE, check, files, frame, job, other, picture, plan, step, tried, view } from "../model/state";
import { Beside } from "./beside";
import { Handles } from "./handles";
import { type Stage, stage } from "../view/stage";
import { packBytes, packFile } from "../wire/ask";

export function Centre() {
  const [turned, setTurned] = useState<number | null>(null);
  const [first, setFirst] = useState<Stage | null>(null);
  const now = view.value;
  const doc = plan.value;
  const id = job.value!.id;
  const chosen = doc?.checks.find((one) => one.id === check.value);
  const model = doc && now === "route" ? modelAt(doc, files.value.map((file) => file.path), step.value) : null;
  const inSpace = now === "shape" || (now === "proof" && !chosen?.picture) || (now === "route" && (!frame.value || (model !== null && turned === step.value)));
  const at = now === "proof" && !chosen?.picture ? (chosen?.where?.at ?? null) : null;
  return (
    <section class={`centre${now === "shape" && other.value ? " two" : ""}`} aria-label="The workpiece">
      <InSpace ready={setFirst} hidden={!inSpace} model={now === "route" && turned === step.value ? model : null} at={at} />
      {now === "shape" && other.value && first && <Beside with={first} />}
      {now === "route" && frame.value && !inSpace && (
        <img class="shot" src={packFile(id, frame.value.picture)} alt={`The workpiece after “${frame.value.title}”`} />
      )}
      {now === "proof" && chosen?.picture && (
        <img class="drawing" src={packFile(id, chosen.picture)} alt={`Where “${chosen.title}” is worst, with its scale`} />
      )}
      {now === "papers" && doc && <iframe class="sheet" title="The shop sheet" src={packFile(id, "shop-sheet.html")} sandbox="" />}
      {now === "papers" && !doc && <p class="empty">The shop sheet comes with the plan.</p>}
      {model !== null && (
        <button type="button" class="over" aria-pressed={turned === step.value} onClick={() => setTurned(turned === step.value ? null : step.value)}>
          {turned === step.value ? "Show the picture" : "Turn it in space"}
        </button>
      )}
    </section>
  );
}

interface InSpaceProps {
  hidden: boolean;
  model: string | null;
  at: readonly number[] | null;
  ready: (stage: Stage | null) => void;
}

function InSpace({ hidden, model, at, ready: tell }: InSpaceProps) {
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
    if (model === null) showPiece();
  });
  useEffect(() => {
    if (model === null) return showPiece();
    const id = job.value?.id;
    void tried(packBytes(id!, model)).then((bytes) => {
      if (!bytes || job.value?.id !== id) return;
      drawn.current?.show(readGlb(bytes), []);
      pieceShown.current = false;
    });
  }, [model]);
  useEffect(() => drawn.current?.mark(at), [at?.join()]);
  const size = picture.value?.head.facts.find((fact) => fact.label === SIZE);
  return (
    <div class="space" hidden={hidden}>
      <div class="stage" ref={within} tabIndex={0} role="application" aria-label="The piece in space" aria-describedby="turning" />
      {view.value === "shape" && ready && <Handles of={ready} />}
      {!able && <p class="empty">This browser draws nothing in space. Everything else works; the pictures of the pack show the piece.</p>}
      {view.value === "route" && model === null && <p class="before calm">What it will be; its boards are not glued yet.</p>}
      {picture.value?.solids.length === 0 && (
        <p class={before ? "before" : "empty"}>{before ? "As it was before: what is written now has no shape." : "What is written has no shape yet: see beside what is wrong."}</p>
      )}
      <p class="caption">
        {size && model === null && <strong>{other.value && view.value === "shape" ? `${job.value!.title}, ${size.value}` : size.value}</strong>}
        <span id="turning">Drag it, or use the arrow keys; + and − come nearer, Home looks from the front.</span>
      </p>
      <button type="button" class="over" onClick={() => drawn.current?.reset()}>From the front</button>
    </div>
  );
}
