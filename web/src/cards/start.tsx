// Where nothing is open: the jobs of the folder, and how to begin one.
import { useEffect, useState } from "preact/hooks";
import { folder, open, tried } from "../model/state";
import { begin, beginWith } from "../wire/ask";

export function Start() {
  const here = folder.value;
  if (!here) return <main class="start"><p>Looking into the folder …</p></main>;
  return (
    <main class="start">
      <h1>{here.folder}</h1>
      {here.jobs.length > 0 ? (
        <section aria-labelledby="jobs">
          <h2 id="jobs">Your jobs</h2>
          <ul class="jobs">
            {here.jobs.map((line) => (
              <li key={line.id}>
                <button type="button" onClick={() => void open(line.id)}>
                  <strong>{line.title}</strong>
                  <span>{line.id === "." ? "job.toml" : `${line.id}/job.toml`}</span>
                </button>
              </li>
            ))}
          </ul>
        </section>
      ) : <p class="lead">There is no job in this folder yet. Begin one: it is a text file, and stays yours.</p>}
      <Begin />
      <footer>Treen {here.version}. This page comes from your own machine and asks nothing of any other.</footer>
    </main>
  );
}

function Begin() {
  const [from, setFrom] = useState<string | null>("tidepool");
  const [name, setName] = useState("");
  const [file, setFile] = useState<File | null>(null);
  const bring = (brought: File | undefined) => {
    if (!brought) return;
    setFile(brought);
    setFrom(BROUGHT);
    setName((now) => now || title(brought.name.replace(/\.[^.]*$/, "")));
  };
  // A file may be dropped anywhere on the page.
  useEffect(() => {
    const all = new AbortController();
    addEventListener("dragover", (event) => event.preventDefault(), { signal: all.signal });
    addEventListener("drop", (event) => {
      event.preventDefault();
      bring(event.dataTransfer?.files[0]);
    }, { signal: all.signal });
    return () => all.abort();
  }, []);
  const start = async (event: Event) => {
    event.preventDefault();
    if (from === BROUGHT && !file) return;
    const put = await tried(from === BROUGHT ? beginWith(name.trim(), file!) : begin({ name: name.trim(), from }));
    if (put) await open(put.id);
  };
  const choices: [string | null, string, string][] = [
    ...(folder.value?.examples ?? []).map((example): [string, string, string] => [example.name, title(example.name), example.says]),
    [null, "From nothing", "A plain round bowl with every choice explained in its text."],
  ];
  return (
    <section aria-labelledby="begin">
      <h2 id="begin">Begin a job</h2>
      <form onSubmit={(event) => void start(event)}>
        <fieldset class="examples">
          <legend>Start from</legend>
          {choices.map(([value, label, says]) => (
            <label key={label}>
              <input type="radio" name="from" checked={from === value} onChange={() => setFrom(value)} />
              <span><strong>{label}</strong><span>{says}</span></span>
            </label>
          ))}
          <label>
            <input type="radio" name="from" checked={from === BROUGHT} onChange={() => setFrom(BROUGHT)} />
            <span><strong>{file ? file.name : "A file of your own"}</strong><span>An outline drawn as SVG, or a solid as STL, OBJ or 3MF: drop it on the page, or choose it.</span></span>
          </label>
        </fieldset>
        {from === BROUGHT && (
          <p class="row">
            <label for="file">The file</label>
            <input id="file" type="file" accept=".svg,.stl,.obj,.3mf" onChange={(event) => bring(event.currentTarget.files?.[0])} />
          </p>
        )}
        <div class="naming">
          <label for="name">Name of the piece</label>
          <input id="name" type="text" required maxLength={80} value={name} onInput={(event) => setName(event.currentTarget.value)} autocomplete="off" />
          <button type="submit" class="main">Begin</button>
        </div>
      </form>
    </section>
  );
}

/** Stands for a file of the maker's own, among the names of examples. */
const BROUGHT = " brought";

const title = (name: string) => name.charAt(0).toUpperCase() + name.slice(1).replaceAll("-", " ");
