//! What a job asks of the shelf by name: wood, finish, resins.

use base::{At, Report, suggestion};
use job::Names;
use trade::shelf::{Resin, Shelf};

/// A resin to cast with, by name; a penetrating seal is none.
pub(crate) fn casting_resin<'a>(shelf: &'a Shelf, name: &str) -> Option<&'a Resin> {
    shelf.resin(name).filter(|r| !r.seal)
}

/// Tells which of the names a shelf does not hold.
pub fn strangers(names: &Names, shelf: &Shelf) -> Report {
    let mut report = Report::default();
    let mut tell = |code: &str, at: Option<At>, kind: &str, name: &str, known: Vec<&str>| {
        report.error(code, at, format!("the shelf holds no {kind} called \"{name}\"")).hint(suggestion(name, known));
    };
    for name in names.wood.iter().filter(|n| shelf.wood(&n.value).is_none()) {
        tell("unknown-wood", name.at, "wood", &name.value, shelf.woods.iter().map(|w| w.name.as_str()).collect());
    }
    for name in names.finish.iter().filter(|n| shelf.finish(&n.value).is_none()) {
        tell(
            "unknown-finish",
            name.at,
            "finish",
            &name.value,
            shelf.finishes.iter().map(|f| f.name.as_str()).collect(),
        );
    }
    let resins = || shelf.resins.iter().filter(|r| !r.seal).map(|r| r.name.as_str());
    for name in names.resins.iter().filter(|n| casting_resin(shelf, &n.value).is_none()) {
        tell("unknown-resin", name.at, "casting resin", &name.value, resins().collect());
    }
    report
}
