// The job's text, to edit as it is.
import { useEffect, useRef, useState } from "preact/hooks";
import { clash, findings, job, saveText } from "../model/state";
import { Findings } from "./findings";

export function TextDialog({ close }: { close: () => void }) {
  const dialog = useRef<HTMLDialogElement>(null);
  const now = job.value!;
  const [text, setText] = useState(now.text);
  const [from, setFrom] = useState(now);
  useEffect(() => dialog.current!.showModal(), []);
  // The file changed elsewhere: what was not touched here follows; what was is kept, and meets it when it is saved.
  useEffect(() => {
    if (text === from.text) {
      setText(now.text);
      setFrom(now);
    }
  }, [now.version]);
  const save = async () => {
    if (await saveText(text, from)) setFrom(job.value!);
    else if (clash.value) close();
  };
  return (
    <dialog ref={dialog} class="words" onClose={close} aria-labelledby="words-title">
      <h2 id="words-title">{now.file}</h2>
      <textarea aria-label="The job's text" spellcheck={false} value={text} onInput={(event) => setText(event.currentTarget.value)} />
      <Findings list={text === now.text ? findings.value : []} />
      <p class="row">
        <button type="button" class="main" disabled={text === from.text} onClick={() => void save()}>Save</button>
        <button type="button" onClick={() => dialog.current!.close()}>{text === from.text ? "Close" : "Close without saving"}</button>
      </p>
    </dialog>
  );
}
