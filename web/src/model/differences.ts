// Two jobs side by side: the figures and the values in which they differ.
import type { Fact, JobView } from "../wire/wire";

export interface Difference {
  label: string;
  here: string;
  there: string;
}

const NONE = "–";

/** The facts that differ, in the order of the first, then those only the second has. */
export function factsApart(here: readonly Fact[], there: readonly Fact[]): Difference[] {
  const of = (facts: readonly Fact[], label: string) => facts.find((fact) => fact.label === label)?.value ?? NONE;
  const labels = [...new Set([...here, ...there].map((fact) => fact.label))];
  return labels.map((label) => ({ label, here: of(here, label), there: of(there, label) })).filter((one) => one.here !== one.there);
}

/** The values of the texts that differ, but for the title. Lengths are compared as lengths, however they are written. */
export function valuesApart(here: JobView, there: JobView): Difference[] {
  const paths = [...new Set([...Object.keys(here.values), ...Object.keys(there.values)])].filter((path) => path !== "title");
  const same = (path: string) => {
    const [a, b] = [here.values[path], there.values[path]];
    return a?.mm != null && b?.mm != null ? Math.abs(a.mm - b.mm) < 1e-9 : a?.text === b?.text;
  };
  return paths.filter((path) => !same(path)).map((path) => ({ label: path, here: here.values[path]?.text ?? NONE, there: there.values[path]?.text ?? NONE }));
}
