// The file was changed elsewhere while it was changed here: both are shown, one is kept, nothing is lost before.
import { useEffect, useRef } from "preact/hooks";
import { clash, settle } from "../model/state";
import type { NewValue } from "../wire/wire";

export function ClashCard() {
  const dialog = useRef<HTMLDialogElement>(null);
  const met = clash.value!;
  useEffect(() => dialog.current!.showModal(), []);
  return (
    <dialog ref={dialog} class="clash" aria-labelledby="clash-title" onCancel={(event) => event.preventDefault()}>
      <h2 id="clash-title">The file was changed elsewhere</h2>
      <p>While you changed {met.now.file} here, it was saved somewhere else. Nothing of yours was written over it.</p>
      {"edits" in met ? (
        <>
          <h3>Your change</h3>
          <ul>{met.edits.map((edit) => <li key={edit.path}><code>{edit.path}</code> becomes <b>{inWords(edit.to)}</b>; the file says {met.now.values[edit.path]?.text ?? "nothing there"}</li>)}</ul>
        </>
      ) : (
        <div class="both">
          <div><h3>As the file is now</h3><pre tabIndex={0}>{met.now.text}</pre></div>
          <div><h3>Yours</h3><pre tabIndex={0}>{met.text}</pre></div>
        </div>
      )}
      <p class="row">
        <button type="button" class="main" onClick={() => void settle(false)}>Keep the file as it is now</button>
        <button type="button" onClick={() => void settle(true)}>{"edits" in met ? "Put my change into it" : "Write mine over it"}</button>
      </p>
    </dialog>
  );
}

function inWords(to: NewValue): string {
  switch (to.as) {
    case "mm": return `${Math.round(to.value * 1000) / 1000} mm`;
    case "text": return to.value;
    case "number": return String(to.value);
    case "flag": return to.value ? "yes" : "no";
    case "table":
    case "more": return to.toml;
    case "gone": return "nothing";
  }
}
