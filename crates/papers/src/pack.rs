//! The pack: every file of a plan, by its path, as bytes.

use crate::{
    Palette, PapersError, PlanDoc, ProofDoc, View, board_view, calendar, check_view, html, lists, mark, models, pdf,
    picture, proof_sheet, section, shop_sheet,
};
use base::Progress;
use proof::{Check, Proof, Snapshot};
use rayon::prelude::*;
use route::Plan;
use std::collections::BTreeMap;

/// The files of a pack.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Pack {
    /// Bytes by path, with `/` between folders.
    pub files: BTreeMap<String, Vec<u8>>,
}

/// Choices about a pack.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PackOptions {
    /// Leave the programs out, because a check fails.
    pub withhold_programs: bool,
    /// Print on the shop sheet where each figure comes from.
    pub derivations: bool,
}

/// Writes all papers of a plan that has been judged.
///
/// # Errors
/// [`PapersError::Cancelled`] if the maker stops, [`PapersError::Unwritable`] for a plan that can't be shown.
pub fn pack(plan: &Plan, proof: &Proof, options: &PackOptions, progress: &dyn Progress) -> Result<Pack, PapersError> {
    let mut pack = Pack::default();
    pack.put("plan.json", PlanDoc::new(plan, proof, options.withhold_programs).text()?);
    pack.put("proof.json", ProofDoc::new(plan, proof).text()?);
    pack.put("calendar.ics", calendar::ics(&plan.title, &plan.calendar)?);
    pack.put("buy-list.csv", lists::buy_list(&plan.buy, &plan.cost.currency));
    pack.put("cut-list.csv", lists::cut_list(&plan.cuts));
    if !options.withhold_programs {
        pack.files.extend(plan.programs.iter().map(|(path, text)| (path.clone(), text.clone().into_bytes())));
    }
    progress.tell("papers", 0.05);
    progress.go_on()?;
    models::write(plan, proof, &mut pack)?;
    progress.tell("papers", 0.3);
    progress.go_on()?;
    pictures(plan, proof, &mut pack, progress)?;
    progress.tell("papers", 0.85);
    if let Some(drawing) = section::Cut::of(plan).and_then(|cut| section::section(&cut)) {
        pack.put("pictures/section.svg", drawing.svg(false, &format!("{}: section", plan.title)).into_bytes());
    }
    if let Some(drawing) = board_view::cut_layout(plan) {
        pack.put("pictures/cut-layout.svg", drawing.svg(false, &format!("{}: cut layout", plan.title)).into_bytes());
    }
    if let Some(drawing) = mark::mark(plan) {
        pack.put("pictures/mark.svg", drawing.svg(false, &format!("{}: mark", plan.title)).into_bytes());
    }
    for check in &proof.checks {
        if let Some(drawing) = check_view::picture(plan, check) {
            let title = format!("{}: {}", plan.title, check.title);
            pack.put(check_picture(check), drawing.svg(false, &title).into_bytes());
        }
    }
    let pictures = pack.files.iter().filter(|(path, _)| path.starts_with("pictures/") && path.ends_with(".png"));
    let pictures = pictures.map(|(path, bytes)| (path.clone(), bytes.clone())).collect();
    let sheet = shop_sheet::shop_sheet(plan, proof, options, pictures);
    pack.put("shop-sheet.html", html::write(&sheet));
    pack.put("shop-sheet.pdf", pdf::write(&sheet, "shop-sheet.pdf")?);
    let sheet = proof_sheet::proof_sheet(plan, proof);
    pack.put("proof-sheet.html", html::write(&sheet));
    pack.put("proof-sheet.pdf", pdf::write(&sheet, "proof-sheet.pdf")?);
    progress.tell("papers", 1.0);
    Ok(pack)
}

impl Pack {
    pub(crate) fn put(&mut self, path: impl Into<String>, bytes: Vec<u8>) {
        self.files.insert(path.into(), bytes);
    }
}

impl Palette {
    /// Colours of a plan.
    pub fn of(plan: &Plan) -> Self {
        Self { wood: plan.wood_colour, resins: plan.casts.iter().map(|c| (c.colour, c.translucent)).collect() }
    }
}

/// Path of the picture of a check that has one.
pub(crate) fn check_picture(check: &Check) -> String {
    format!("pictures/check-{}.svg", check.id)
}

/// Path of the picture after a step, if it has one: `pictures/step-NN-ID.png`, NN as numbered on the sheet.
pub(crate) fn step_picture(plan: &Plan, step: &str) -> Option<String> {
    let k = plan.steps.iter().position(|s| s.id == step)?;
    Some(format!("pictures/step-{:02}-{step}.png", k + 1))
}

fn pictures(plan: &Plan, proof: &Proof, pack: &mut Pack, progress: &dyn Progress) -> Result<(), PapersError> {
    let palette = Palette::of(plan);
    let draw = |snapshot: &Snapshot| -> Result<Option<(String, Vec<u8>)>, PapersError> {
        progress.go_on()?;
        let Some(path) = step_picture(plan, &snapshot.step) else { return Ok(None) };
        Ok(Some((path, picture(&snapshot.workpiece, &palette, &View::STEP)?)))
    };
    let drawn: Result<Vec<_>, _> = proof.snapshots.par_iter().map(draw).collect();
    pack.files.extend(drawn?.into_iter().flatten());
    if let Some(last) = proof.snapshots.last() {
        let mut piece = last.workpiece.clone();
        if piece.face_up() == workpiece::Face::Foot {
            piece.flip();
        }
        pack.put("pictures/piece.png", picture(&piece, &palette, &View::PIECE)?);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    /// With `SHOW_PAPERS=DIR` the pack is written out, to look at.
    #[test]
    fn a_pack_has_every_file_of_the_contract() {
        let plan = fixture::plan();
        let pitch = if std::env::var("SHOW_PAPERS").is_ok() { 0.4 } else { 1.5 };
        let proof = Proof { snapshots: fixture::snapshots(pitch), ..fixture::proof() };
        let full = pack(&plan, &proof, &PackOptions::default(), &base::Quiet).unwrap();
        if let Ok(dir) = std::env::var("SHOW_PAPERS") {
            for (path, bytes) in &full.files {
                let path = std::path::Path::new(&dir).join(path);
                std::fs::create_dir_all(path.parent().unwrap()).unwrap();
                std::fs::write(path, bytes).unwrap();
            }
        }
        let names = "plan.json proof.json models/piece.stl models/piece.3mf models/piece.glb models/cast-line.stl \
                     models/cast-line-poured.stl models/blank.stl models/setup-cavity-target.stl \
                     models/setup-cavity-before.glb models/setup-cavity-after.glb models/setup-tray-before.glb \
                     models/setup-tray-after.glb models/keep-tray-table.stl shop-sheet.pdf shop-sheet.html calendar.ics \
                     buy-list.csv cut-list.csv pictures/piece.png pictures/section.svg pictures/cut-layout.svg pictures/step-02-glue.png \
                     pictures/step-04-cavity-carve.png pictures/step-05-pour-line-1.png pictures/step-06-tray-carve.png \
                     pictures/check-rubbing.tray.svg proof-sheet.html proof-sheet.pdf \
                     programs/01-cavity-T1.nc programs/00-cavity-look.nc";
        for name in names.split_whitespace() {
            assert!(full.files.get(name).is_some_and(|b| !b.is_empty()), "{name}");
        }
        for (name, bytes) in &full.files {
            assert!(bytes.len() < 10_000_000, "{name} has {} bytes", bytes.len());
            if name.ends_with(".glb") {
                gltf::Gltf::from_slice(bytes).unwrap();
            }
        }
        assert!(full.files["shop-sheet.pdf"].starts_with(b"%PDF-1."));

        let again = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        let again = again
            .install(|| {
                pack(&plan, &proof, &PackOptions { withhold_programs: true, ..PackOptions::default() }, &base::Quiet)
            })
            .unwrap();
        assert!(!again.files.keys().any(|name| name.starts_with("programs/")));
        for (name, bytes) in &again.files {
            let tells = matches!(name.as_str(), "plan.json" | "shop-sheet.pdf" | "shop-sheet.html");
            assert_eq!(*bytes == full.files[name], !tells, "{name}: same bytes on one thread");
        }
    }
}
