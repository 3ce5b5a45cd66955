// Hearing from the server what happens. A line that broke is taken up again by the browser; its first word is then
// "hello", and whoever listens looks at everything anew. A browser keeps six lines to one server open at most, so one tab
// listens for all and passes on what it hears; when it is closed, another takes its place.
import type { Event as News } from "./wire";

/** What the tab that listens tells the others. */
type Passed = { news: News } | { open: boolean };

/** Listens until the page is left; `line` hears whether the server is there. */
export function listen(hear: (news: News) => void, line: (open: boolean) => void): void {
  // Without locks (a page that did not come from this machine) each tab listens for itself.
  if (!("locks" in navigator)) return open(hear, line);
  const others = new BroadcastChannel("what happens");
  others.onmessage = ({ data }: MessageEvent<Passed>) => ("news" in data ? hear(data.news) : line(data.open));
  const pass = (passed: Passed) => others.postMessage(passed);
  void navigator.locks.request("the one that listens", () => new Promise<never>(() => {
    open((news) => {
      pass({ news });
      hear(news);
    }, (open) => {
      pass({ open });
      line(open);
    });
  }));
}

function open(hear: (news: News) => void, line: (open: boolean) => void): void {
  const source = new EventSource("/api/events");
  source.onmessage = (message) => {
    line(true);
    hear(JSON.parse(message.data) as News);
  };
  source.onerror = () => {
    line(false);
    // A server that is gone closes the line for good; one that starts again is found by asking again.
    if (source.readyState === EventSource.CLOSED) setTimeout(() => open(hear, line), 1000);
  };
}
