//! The example jobs as the tests read them.

use std::fs;
use treen::texts::{OWN_SHELF, Sources, Texts};

/// The texts of an example, with the shelf that comes with treen.
pub(crate) fn sources(name: &str) -> Sources {
    let folder = format!("{}/../../examples/{name}", env!("CARGO_MANIFEST_DIR"));
    let mut texts = Texts::default();
    let job = texts.put("job.toml", fs::read_to_string(format!("{folder}/job.toml")).unwrap());
    let shelf = texts.put(OWN_SHELF, trade::DEFAULT_SHELF);
    let shop = fs::read_to_string(format!("{folder}/shop.toml")).ok().map(|text| texts.put("shop.toml", text));
    Sources { texts, job, shelf, shop, record: None }
}
