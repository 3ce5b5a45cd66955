// Handles on the picture: a size is pulled where it is seen. The sliders of the card do the same from the keyboard.
import { useEffect, useMemo, useState } from "preact/hooks";
import { groupsOf, lengthText } from "../model/fields";
import { type Handle, handlesOf, pulled } from "../model/handles";
import { job, picture, saveEdits, show, units } from "../model/state";
import type { Stage } from "../view/stage";

export function Handles({ of }: { of: Stage }) {
  // The picture turns without telling the page; what hangs on it follows.
  const [drawing, turned] = useState(0);
  useEffect(() => of.follow(() => turned((count) => count + 1)), [of]);
  const [now, shown] = [job.value!, picture.value];
  const handles = useMemo(() => {
    const size = shown?.head.size_mm;
    if (!size || shown.solids.length === 0) return [];
    return handlesOf(now, size, groupsOf(now).flatMap((group) => group.fields));
  }, [now, shown]);
  return <>{handles.map((handle) => <Grip key={handle.path} of={of} handle={handle} drawing={drawing} />)}</>;
}

interface Pull {
  x: number;
  y: number;
  from: number;
  way: [number, number];
  now: number;
}

/** `drawing` counts the drawings: a handle moves with each. */
function Grip({ of, handle }: { of: Stage; handle: Handle; drawing: number }) {
  const [pull, setPull] = useState<Pull | null>(null);
  const place = of.seen(handle.at);
  if (!place) return null;
  const step = units.value === "in" ? 25.4 / 16 : 0.5;
  const end = () => {
    if (pull && pull.now !== pull.from) void saveEdits([{ path: handle.path, to: { as: "mm", value: pull.now } }]);
    setPull(null);
  };
  return (
    // The sliders say the same to a keyboard and a reader, so the handles are for the eye and the hand alone.
    <div
      class={`grip${pull ? " held" : ""}${place[0] > 0.6 * of.width() ? " left" : ""}`} aria-hidden="true" style={{ left: `${place[0]}px`, top: `${place[1]}px` }}
      onPointerDown={(event) => {
        event.stopPropagation();
        event.currentTarget.setPointerCapture(event.pointerId);
        const beyond = of.seen([handle.at[0] + handle.along[0], handle.at[1] + handle.along[1], handle.at[2] + handle.along[2]]);
        const from = job.value!.values[handle.path]!.mm!;
        if (beyond) setPull({ x: event.clientX, y: event.clientY, from, now: from, way: [beyond[0] - place[0], beyond[1] - place[1]] });
      }}
      onPointerMove={(event) => {
        if (!pull) return;
        const now = pulled(handle, pull.from, [event.clientX - pull.x, event.clientY - pull.y], pull.way, step);
        if (now === pull.now) return;
        setPull({ ...pull, now });
        show([{ path: handle.path, to: { as: "mm", value: now } }]);
      }}
      onPointerUp={end}
      onPointerCancel={() => {
        setPull(null);
        show([]);
      }}
    >
      <span class="dot" />
      <span class="says">{handle.label}{pull && <b> {lengthText(pull.now, units.value)}</b>}</span>
    </div>
  );
}
