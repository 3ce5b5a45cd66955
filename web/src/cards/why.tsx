// A figure that opens its why: formula, what went in, where it comes from.
import { amount } from "../model/amounts";
import { plan, units } from "../model/state";
import type { FigureDoc } from "../wire/wire";

export function Figure({ id, depth = 0 }: { id: string; depth?: number }) {
  const figure = plan.value?.figures[id];
  if (!figure) return null;
  return (
    <details class="why">
      <summary><span>{named(id)}</span> <b>{amount(figure.value, figure.unit, units.value)}</b></summary>
      <p class="formula">{figure.formula}</p>
      <ul>
        {figure.inputs.map((input, k) => (
          <li key={k}>
            {"figure" in input
              // A figure may rest on others; the chain is short, and never runs in a circle on the page.
              ? (depth < 4 ? <Figure id={input.figure} depth={depth + 1} /> : named(input.figure))
              : <><b>{amount(input.value, input.unit, units.value)}</b> {input.from}</>}
          </li>
        ))}
      </ul>
      <p class="source">{source(figure)}</p>
    </details>
  );
}

const named = (id: string) => {
  const words = id.replaceAll(/[._-]/g, " ");
  return words.charAt(0).toUpperCase() + words.slice(1);
};

function source(figure: FigureDoc): string {
  const from = figure.source;
  switch (from.kind) {
    case "published": return `Source: ${from.title}, ${from.place}`;
    case "common-practice": return "Common practice, no source";
    case "measured": return `Measured: ${from.on}`;
    case "from-memory": return `From memory: ${from.title}`;
    case "derived": return "Follows from the figures above";
  }
}
