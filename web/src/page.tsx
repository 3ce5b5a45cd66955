// The page: mounts the cards, listens to the server, and keeps job and view in the address.
import { effect } from "@preact/signals";
import { render } from "preact";
import { Bench } from "./cards/bench";
import { VIEWS, type View, hear, job, lookAround, online, open, stepInTime, view } from "./model/state";
import { lookAtChoices } from "./model/deciding";
import { listen } from "./wire/listen";

function fromAddress(): void {
  const asked = new URLSearchParams(location.hash.slice(1));
  const wanted = asked.get("view") as View | null;
  view.value = wanted && VIEWS.includes(wanted) ? wanted : "shape";
  const id = asked.get("job");
  if (id !== (job.peek()?.id ?? null)) void open(id);
}

effect(() => {
  const id = job.value?.id;
  const hash = id === undefined ? "" : `#${new URLSearchParams({ job: id, view: view.value })}`;
  if (id !== undefined && location.hash !== hash) history.replaceState(null, "", hash);
  document.title = job.value ? `${job.value.title} · Treen` : "Treen";
});

addEventListener("hashchange", fromAddress);
addEventListener("keydown", (event) => {
  const typing = event.target instanceof HTMLTextAreaElement || (event.target instanceof HTMLInputElement && event.target.type === "text");
  if (typing || !(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || !job.peek()) return;
  event.preventDefault();
  void stepInTime(event.shiftKey ? 1 : -1);
});

void lookAround();
fromAddress();
listen((news) => {
  void hear(news);
  if (news.is === "tried" && news.id === job.peek()?.id) void lookAtChoices();
}, (there) => {
  online.value = there;
});
render(<Bench />, document.getElementById("page")!);
