//! The page: serves a folder of jobs to a browser on this machine.
//!
//! `api::router` is apart from listening, so that it can be tried without a socket. The files of the folder stay the
//! truth: every answer is read from them, every change is written to them against the version it was made from. Planning
//! runs on one thread of its own (`planner`) and tells how far it is; whoever listens hears of it (`events`). Only this
//! machine is served, and only to pages that came from here (`guard`).

pub mod edit;
pub mod folder;
pub mod wire;

mod api;
mod brought;
mod carving;
mod choices;
mod desk;
mod events;
mod guard;
mod lock;
mod maps;
mod openapi;
mod page;
mod planner;
mod preview;
mod what_if;

pub use api::router;
pub use desk::Desk;
pub use openapi::document as openapi;

use crate::cli::ServeArgs;
use crate::{Outcome, Trouble, console};
use folder::Folder;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

/// How often the folder is looked at for changes made elsewhere.
const LOOK_EVERY: Duration = Duration::from_millis(250);
/// How long open answers may take to end once the server stops.
const LAST_CALL: Duration = Duration::from_secs(2);

/// `treen serve`: until Ctrl-C.
pub(crate) fn serve(args: &ServeArgs) -> Result<Outcome, Trouble> {
    let folder = Folder::open(&args.folder)?;
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build();
    let runtime = runtime.map_err(|e| Trouble::Fault(format!("no threads to serve with: {e}")))?;
    let outcome = runtime.block_on(listen(folder, args));
    runtime.shutdown_timeout(LAST_CALL);
    outcome
}

async fn listen(folder: Folder, args: &ServeArgs) -> Result<Outcome, Trouble> {
    let address = SocketAddr::from((Ipv4Addr::LOCALHOST, args.port));
    let mut lock = lock::Lock::take(folder.root())?;
    let listener = tokio::net::TcpListener::bind(address).await.map_err(|why| {
        Trouble::input(
            format!("the address {address} can't be listened at: {why}"),
            "take another with `--port N`, or any free one with `--port 0`",
        )
    })?;
    let here = listener.local_addr().map_err(|e| Trouble::Fault(format!("the address is not known: {e}")))?;
    lock.tell(&format!("http://{here}"))?;
    let desk = Desk::new(folder, here.port(), args.work.pitch, args.work.threads);
    console::say(&format!(
        "The page of {} is at http://{here}\n{}Ctrl-C ends it.\n",
        desk.folder().root().display(),
        if page::is_built() { "" } else { "But this program was built without its page: see there what to do.\n" },
    ));
    let watching = tokio::spawn(watch(desk.clone()));
    let served = axum::serve(listener, router(desk.clone()).into_make_service())
        .with_graceful_shutdown(asked_to_stop(desk.clone()));
    let ended = tokio::select! {
        ended = served => ended,
        () = too_long(desk.clone()) => Ok(()),
    };
    watching.abort();
    ended.map_err(|e| Trouble::Fault(format!("serving broke off: {e}")))?;
    console::complain("The page is closed; nothing is left half-written.\n");
    Ok(Outcome::Done)
}

/// Ends when the maker stops the server, after telling everyone who listens.
async fn asked_to_stop(desk: Arc<Desk>) {
    let interrupted = tokio::signal::ctrl_c();
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        match signal(SignalKind::terminate()) {
            Ok(mut ended) => {
                tokio::select! { _ = interrupted => {}, _ = ended.recv() => {} }
            }
            Err(_) => {
                let _ = interrupted.await;
            }
        }
    }
    #[cfg(not(unix))]
    {
        let _ = interrupted.await;
    }
    desk.close();
}

/// Ends a while after the desk was closed.
async fn too_long(desk: Arc<Desk>) {
    desk.closed().await;
    tokio::time::sleep(LAST_CALL).await;
}

/// Looks for changes made in an editor, until it is aborted.
async fn watch(desk: Arc<Desk>) {
    loop {
        tokio::time::sleep(LOOK_EVERY).await;
        let looking = desk.clone();
        if tokio::task::spawn_blocking(move || looking.look_around()).await.is_err() {
            return;
        }
    }
}
