// How finely the picture is drawn while it moves: coarser where the machine can't keep up, finer again where it can.
// At rest it is always drawn in full.

/** Frames slower than this are drawn coarser, ms (30 a second). */
const SLOW = 33;
/** Frames quicker than this may be drawn finer, ms. */
const QUICK = 20;
const COARSEST = 0.15;

/** The share of full resolution for the next moving frame, from how long the last took. */
export function nextDetail(detail: number, took: number): number {
  // One long pause is no sign of a slow machine: the change is bounded either way.
  if (took > SLOW) return Math.max(COARSEST, detail * Math.max(0.6, Math.sqrt(SLOW / took)));
  return took < QUICK ? Math.min(1, detail * 1.08) : detail;
}
