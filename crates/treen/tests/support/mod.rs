//! The example jobs as the tests read them.

use std::fs;
use std::path::Path;
use treen::texts::{OWN_SHELF, Sources, Texts, files_of};

/// The texts of an example, with the shelf that comes with treen.
pub(crate) fn sources(name: &str) -> Sources {
    let folder = format!("{}/../../examples/{name}", env!("CARGO_MANIFEST_DIR"));
    let mut texts = Texts::default();
    let job = texts.put("job.toml", fs::read_to_string(format!("{folder}/job.toml")).unwrap());
    let shelf = texts.put(OWN_SHELF, trade::DEFAULT_SHELF);
    let shop = fs::read_to_string(format!("{folder}/shop.toml")).ok().map(|text| texts.put("shop.toml", text));
    let files = files_of(texts.content(job), Path::new(&folder).join("job.toml").as_path());
    Sources { texts, job, shelf, shop, record: None, files }
}
