// Where nothing is open: the jobs of the folder, and how to begin one.
import { useState } from "preact/hooks";
import { folder, open, tried } from "../model/state";
import { begin } from "../wire/ask";

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
  const start = async (event: Event) => {
    event.preventDefault();
    const put = await tried(begin({ name: name.trim(), from }));
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
        </fieldset>
        <div class="naming">
          <label for="name">Name of the piece</label>
          <input id="name" type="text" required maxLength={80} value={name} onInput={(event) => setName(event.currentTarget.value)} autocomplete="off" />
          <button type="submit" class="main">Begin</button>
        </div>
      </form>
    </section>
  );
}

const title = (name: string) => name.charAt(0).toUpperCase() + name.slice(1).replaceAll("-", " ");
