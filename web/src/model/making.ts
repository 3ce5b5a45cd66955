// The making as the strip shows it: steps, the picture each leaves behind, and the checks in the order of their weight.
import type { CheckDoc, PlanDoc, State, Step } from "../wire/wire";

/** One place on the strip: a step that changes the workpiece, and its picture. */
export interface Frame {
  /** Place of the step in the plan, from 0. */
  step: number;
  picture: string;
  title: string;
}

/** The pictures of a pack in the order of the steps. `files` are the paths of the pack. */
export function framesOf(plan: PlanDoc, files: readonly string[]): Frame[] {
  const frames: Frame[] = [];
  for (const path of files) {
    const found = /^pictures\/step-(\d+)-.*\.png$/.exec(path);
    const step = found ? Number(found[1]) - 1 : -1;
    const of = plan.steps[step];
    if (of) frames.push({ step, picture: path, title: of.title });
  }
  return frames.sort((a, b) => a.step - b.step);
}

/** The workpiece as it stands at a step: the last picture up to it, or none yet. */
export function frameAt(frames: readonly Frame[], step: number): Frame | null {
  return frames.findLast((frame) => frame.step <= step) ?? null;
}

/** The model of the workpiece after a step, if the pack has one. */
export function modelAt(plan: PlanDoc, files: readonly string[], step: number): string | null {
  const change = plan.steps[step]?.change;
  const path = change?.does === "carve" ? `models/setup-${change.setup}-after.glb` : null;
  return path !== null && files.includes(path) ? path : null;
}

/** The setup whose programs run at a step, if any do. */
export function carvedAt(plan: PlanDoc, step: number): string | null {
  const change = plan.steps[step]?.change;
  return change?.does === "carve" ? change.setup : null;
}

const WEIGHT: Record<State, number> = { fails: 0, watch: 1, holds: 2 };

/** How near a figure is to its limit: 1 at it, more beyond; 0 where that can't be said. */
export function strain(check: CheckDoc): number {
  const { value, limit } = check;
  if (value == null || limit == null) return 0;
  // A count of faults that may not have one says nothing of how near it is.
  if (value === limit && limit === 0) return 0;
  if (check.sense === "at least") return value > 0 ? limit / value : limit > 0 ? Infinity : 1;
  return limit > 0 ? value / limit : Infinity;
}

/** The checks, the worst first; among equals those nearest to their limit. */
export function worstFirst(checks: readonly CheckDoc[]): CheckDoc[] {
  const strained = (check: CheckDoc) => Math.min(strain(check), 1e9);
  return [...checks].sort((a, b) => WEIGHT[a.state] - WEIGHT[b.state] || strained(b) - strained(a));
}

/** How many checks are in each state. */
export function counted(checks: readonly CheckDoc[]): Record<State, number> {
  const count: Record<State, number> = { holds: 0, watch: 0, fails: 0 };
  for (const check of checks) count[check.state] += 1;
  return count;
}

/** Time of all steps: hands, machine and waiting, s. */
export function timeOf(steps: readonly Step[], setups: PlanDoc["setups"]) {
  const sum = (part: (step: Step) => number) => steps.reduce((all, step) => all + part(step), 0);
  const machine = setups.flatMap((setup) => setup.programs).reduce((all, program) => all + program.duration_s, 0);
  return { hands: sum((step) => step.hands_on_s), waiting: sum((step) => step.wait_s), machine };
}

/** What a file of the pack is for, in words; files of one word stand together. */
export function purpose(path: string): string {
  if (path.startsWith("programs/")) return "Programs";
  if (path.startsWith("models/")) return "Models";
  if (path.startsWith("pictures/")) return "Pictures";
  if (path.endsWith(".json")) return "For other programs";
  return "Papers";
}

const ORDER = ["Papers", "Programs", "Models", "Pictures", "For other programs"];

/** The files of a pack by what they are for. */
export function byPurpose<T extends { path: string }>(files: readonly T[]): [string, T[]][] {
  return ORDER.map((word): [string, T[]] => [word, files.filter((file) => purpose(file.path) === word)]).filter(([, of]) => of.length > 0);
}
