//! What happens, told to every page that listens, as server-sent events.

use super::desk::Desk;
use super::wire::Event;
use axum::response::sse::{self, KeepAlive, Sse};
use futures_util::Stream;
use futures_util::stream::unfold;
use std::convert::Infallible;
use std::sync::Arc;
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::broadcast::{Receiver, Sender};

/// Events kept for a page that is slow to take them; beyond that it is told to look at everything anew.
const KEPT: usize = 256;

/// The line.
pub(super) fn line() -> Sender<Event> {
    Sender::new(KEPT)
}

/// All events from now on, until the desk closes. The first is [`Event::Hello`], also after a line that broke.
pub(super) fn stream(desk: Arc<Desk>) -> Sse<impl Stream<Item = Result<sse::Event, Infallible>>> {
    let news = desk.listen();
    let stream = unfold((desk, news, true), |(desk, mut news, first)| async move {
        let event = if first { Event::Hello } else { next(&desk, &mut news).await? };
        let text = serde_json::to_string(&event).ok()?;
        Some((Ok(sse::Event::default().data(text)), (desk, news, false)))
    });
    Sse::new(stream).keep_alive(KeepAlive::default())
}

async fn next(desk: &Desk, news: &mut Receiver<Event>) -> Option<Event> {
    tokio::select! {
        () = desk.closed() => None,
        event = news.recv() => match event {
            Ok(event) => Some(event),
            Err(RecvError::Lagged(_)) => Some(Event::Hello),
            Err(RecvError::Closed) => None,
        },
    }
}
