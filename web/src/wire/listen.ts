// Hearing from the server what happens. A line that broke is taken up again by the browser; its first word is then
// "hello", and whoever listens looks at everything anew.
import type { Event as News } from "./wire";

/** Listens until the page is left; `line` hears whether the server is there. */
export function listen(hear: (news: News) => void, line: (open: boolean) => void): () => void {
  let source: EventSource;
  let again: ReturnType<typeof setTimeout> | undefined;
  const open = () => {
    source = new EventSource("/api/events");
    source.onmessage = (message) => {
      line(true);
      hear(JSON.parse(message.data) as News);
    };
    source.onerror = () => {
      line(false);
      // A server that is gone closes the line for good; one that starts again is found by asking again.
      if (source.readyState === EventSource.CLOSED) again = setTimeout(open, 1000);
    };
  };
  open();
  return () => {
    clearTimeout(again);
    source.close();
  };
}
