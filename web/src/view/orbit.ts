// Turning the piece: by mouse, touch and keys. The piece stays upright and in the middle.

/** Where the eye stands: angles in radians, distance in sizes of the piece. */
export interface Eye {
  turn: number;
  rise: number;
  away: number;
}

export const AT_FIRST: Eye = { turn: 0.47, rise: 0.62, away: 2.5 };

const LEAST_RISE = -1.35;
const MOST_RISE = 1.5;
const NEAR = 0.9;
const FAR = 5;
/** Turn for each pixel of a drag. */
const BY_PIXEL = 0.008;
/** Turn for each press of a key. */
const BY_KEY = 0.12;

const within = (value: number, least: number, most: number) => Math.min(most, Math.max(least, value));

/** The eye moved by these amounts, within its limits. */
export function moved(eye: Eye, turn: number, rise: number, nearer: number): Eye {
  return {
    turn: eye.turn + turn,
    rise: within(eye.rise + rise, LEAST_RISE, MOST_RISE),
    away: within(eye.away * nearer, NEAR, FAR),
  };
}

/** The eye after a key, or `null` if the key is not for it. */
export function byKey(eye: Eye, key: string): Eye | null {
  switch (key) {
    case "ArrowLeft": return moved(eye, -BY_KEY, 0, 1);
    case "ArrowRight": return moved(eye, BY_KEY, 0, 1);
    case "ArrowUp": return moved(eye, 0, BY_KEY, 1);
    case "ArrowDown": return moved(eye, 0, -BY_KEY, 1);
    case "+": case "=": return moved(eye, 0, 0, 0.9);
    case "-": return moved(eye, 0, 0, 1 / 0.9);
    case "Home": case "0": return AT_FIRST;
    default: return null;
  }
}

/** Listens on an element and tells where the eye goes; returns what ends it. */
export function orbit(on: HTMLElement, now: () => Eye, go: (eye: Eye) => void): () => void {
  const fingers = new Map<number, { x: number; y: number }>();
  const spread = () => {
    const [a, b] = [...fingers.values()];
    return a && b ? Math.hypot(a.x - b.x, a.y - b.y) : 0;
  };
  const down = (event: PointerEvent) => {
    on.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  };
  const move = (event: PointerEvent) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const wide = spread();
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (fingers.size === 1) {
      go(moved(now(), (before.x - event.clientX) * BY_PIXEL, (event.clientY - before.y) * BY_PIXEL, 1));
    } else if (fingers.size === 2 && spread() > 0) {
      go(moved(now(), 0, 0, wide / spread()));
    }
  };
  const up = (event: PointerEvent) => fingers.delete(event.pointerId);
  const wheel = (event: WheelEvent) => {
    event.preventDefault();
    go(moved(now(), 0, 0, Math.exp(within(event.deltaY, -200, 200) * 0.0015)));
  };
  const key = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const eye = byKey(now(), event.key);
    if (!eye) return;
    event.preventDefault();
    go(eye);
  };
  const first = () => go(AT_FIRST);
  const all = new AbortController();
  const { signal } = all;
  on.addEventListener("pointerdown", down, { signal });
  on.addEventListener("pointermove", move, { signal });
  on.addEventListener("pointerup", up, { signal });
  on.addEventListener("pointercancel", up, { signal });
  on.addEventListener("wheel", wheel, { signal, passive: false });
  on.addEventListener("keydown", key, { signal });
  on.addEventListener("dblclick", first, { signal });
  return () => all.abort();
}
