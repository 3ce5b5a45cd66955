// Every part of the pack, to download or print.
import { fileSize } from "../model/amounts";
import { byPurpose } from "../model/making";
import { files, job, keep, plan, stale } from "../model/state";
import { filming } from "../model/watching";
import { filmOf, packFile, packZip } from "../wire/ask";
import { NoPlan } from "./planning";

const WORDS: Record<string, string> = {
  "shop-sheet.pdf": "The shop sheet, to print", "shop-sheet.html": "The shop sheet, for a screen",
  "proof-sheet.pdf": "Every check with its picture, to print", "proof-sheet.html": "Every check, for a screen",
  "buy-list.csv": "What to buy", "cut-list.csv": "What to cut", "calendar.ics": "The likely days, for a calendar",
};

export function PapersCard() {
  if (!plan.value) return <NoPlan what="The pack is everything the shop needs: programs, the shop sheet, models, pictures, lists and the calendar." />;
  const id = job.value!.id;
  const folder = id === "." ? "pack" : id.split("/").at(-1);
  return (
    <>
      {stale.value && <p class="finding warning">The job has changed since these were made.</p>}
      <h2>The shop pack</h2>
      {plan.value.programs_withheld && <p class="finding error"><strong>The programs are withheld</strong> because a check fails. See the proof.</p>}
      <p class="row">
        <a class="button main" href={packZip(id)} download={`${folder}-pack.zip`}>Download everything</a>
        <button type="button" disabled={stale.value} onClick={() => void keep()}>Put it beside the job</button>
        <a class="button" href={packFile(id, "shop-sheet.pdf")} target="_blank" rel="noreferrer">Print the sheet</a>
      </p>
      <section class="group">
        <h2>The film</h2>
        <p>The whole making in half a minute, for those who teach: boards, cavity, resin, turning over, the finished piece.</p>
        <p class="row">
          <button type="button" aria-pressed={filming.value} onClick={() => { filming.value = !filming.value; }}>{filming.value ? "Show the sheet" : "Show the film"}</button>
          <a class="button" href={filmOf(id)} download={`${folder}.gif`}>Download the film</a>
        </p>
      </section>
      {byPurpose(files.value).map(([word, of]) => (
        <section class="group" key={word}>
          <h2>{word}</h2>
          <ul class="files">
            {of.map((file) => (
              <li key={file.path}>
                <a href={packFile(id, file.path)} download={file.path.split("/").at(-1)}>{WORDS[file.path] ?? file.path.split("/").at(-1)}</a>
                <span>{fileSize(file.bytes)}</span>
              </li>
            ))}
          </ul>
        </section>
      ))}
    </>
  );
}
