// What a possibility comes to, told as what it would change.
import type { ChoiceFigures } from "../wire/wire";
import { clock, digits } from "./amounts";

/** Less than this is told as nothing, s. */
const NOTHING_S = 30;

const signed = (text: string, value: number) => `${value > 0 ? "+" : "−"}${text}`;
const time = (word: string, by: number) => (Math.abs(by) < NOTHING_S ? [] : [`${word} ${signed(clock(Math.abs(by)), by)}`]);

/** What it changes in time and money; empty where that is nothing. */
export function changes(now: ChoiceFigures, then: ChoiceFigures): string[] {
  const cost = then.cost - now.cost;
  return [
    ...time("machine", then.machine_s - now.machine_s), ...time("hands", then.hands_s - now.hands_s), ...time("waiting", then.wait_s - now.wait_s),
    ...(Math.abs(cost) < 0.005 ? [] : [`${signed(digits(Math.abs(cost)), cost)} ${then.currency}`]),
  ];
}

/** What it does to the checks: those that newly fail or are newly on watch, and how many are better. */
export function risks(now: ChoiceFigures, then: ChoiceFigures): { worse: string[]; better: number } {
  const worse = [
    ...then.fails.filter((title) => !now.fails.includes(title)).map((title) => `fails: ${title}`),
    ...then.watch.filter((title) => !now.watch.includes(title) && !now.fails.includes(title)).map((title) => `to watch: ${title}`),
  ];
  const open = [...now.fails, ...now.watch];
  const better = open.filter((title) => !then.fails.includes(title) && !then.watch.includes(title)).length
    + now.fails.filter((title) => then.watch.includes(title)).length;
  return { worse, better };
}
