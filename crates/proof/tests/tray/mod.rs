//! A tray of our own for the tests: a block with a pocket, cut from one side out of a larger blank, with or without a
//! resin band in its rim.

#![allow(clippy::unwrap_used)]

use geom::{DAffine3, DMat3, DVec3, Mesh};
use proof::{CastFacts, Evidence, PieceFacts, Promise};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use trade::shelf::Shelf;
use workpiece::{
    Blank, BlankBoard, Box3, Change, Datums, Face, Holding, ProgramSheet, ReferenceSpot, Setup, Step, StepKind, Zero,
    ZeroAxis,
};

pub(crate) const FILE: &str = "programs/01-tray.nc";
pub(crate) const CAVITY: &str = "programs/00-cavity.nc";
const LOOK: &str = "programs/look.nc";
/// Radius of cutter 3 of the default shelf.
const R: f64 = 3.175;

pub(crate) fn shelf() -> Shelf {
    let (shelf, report) = trade::parse(trade::DEFAULT_SHELF, base::FileId::default());
    assert!(!report.has_errors());
    shelf.unwrap()
}

fn cuboid(x: f64, y: f64, z0: f64, z1: f64) -> Mesh {
    Mesh::cuboid(DVec3::new(-x, -y, z0), DVec3::new(x, y, z1))
}

/// A text in the making.
pub(crate) struct Text(String);

impl Text {
    pub(crate) fn new() -> Self {
        let mut t = Self(String::new());
        t.line("%")
            .line("G21 G90 G17 G94 G54 G40 G49 G80")
            .line("T3 M0")
            .line("G0 Z20")
            .line("M3 S16000")
            .line("G4 P8");
        t
    }

    pub(crate) fn line(&mut self, text: &str) -> &mut Self {
        writeln!(self.0, "{text}").unwrap();
        self
    }

    fn over(&mut self, x: f64, y: f64) -> &mut Self {
        self.line("G0 Z20").line(&format!("G0 X{x:.3} Y{y:.3}"))
    }

    fn to(&mut self, x: f64, y: f64, z: f64) -> &mut Self {
        self.line(&format!("G1 X{x:.3} Y{y:.3} Z{z:.3} F1500"))
    }

    fn face(&mut self) -> &mut Self {
        let mut y = -33.0;
        let mut x = 45.0;
        self.over(-x, y).line("G0 Z0");
        while y <= 33.0 {
            self.to(-x, y, 0.0).to(x, y, 0.0);
            x = -x;
            y += 3.0;
        }
        self
    }

    /// A rectangle of ways of the centre, down to `bottom` in levels, each entered on a ramp.
    fn pocket(&mut self, x: f64, y: f64, top: f64, bottom: f64) -> &mut Self {
        let levels = ((top - bottom) / 2.0).ceil();
        self.over(-x, -y).line(&format!("G0 Z{:.3}", top + 1.0)).to(-x, -y, top);
        for level in 1..=levels as i32 {
            let z = top + (bottom - top) * f64::from(level) / levels;
            self.to(x, -y, z).to(-x, -y, z);
            let rows = (2.0 * y / 3.0).ceil();
            for row in 1..=rows as i32 {
                let v = -y + 2.0 * y * f64::from(row) / rows;
                let side = if row % 2 == 0 { 1.0 } else { -1.0 };
                self.to(side * x, v, z).to(-side * x, v, z);
            }
            self.to(x, y, z).to(-x, y, z).to(-x, -y, z).to(x, -y, z).to(x, y, z).to(-x, -y, z);
        }
        self
    }

    fn round(&mut self, x: f64, y: f64, bottom: f64) -> &mut Self {
        self.over(-x, -y).line("G0 Z1").to(-x, -y, 0.0);
        for level in 1..=5 {
            let z = bottom * f64::from(level) / 5.0;
            self.to(x, -y, z).to(x, y, z).to(-x, y, z).to(-x, -y, z).to(x, -y, z).to(-x, -y, z);
        }
        self
    }

    pub(crate) fn end(&mut self) -> String {
        self.line("G0 Z20").line("M5").line("M2").line("%");
        std::mem::take(&mut self.0)
    }
}

fn tray_text() -> String {
    Text::new().face().pocket(18.0 - R, 10.0 - R, 0.0, -10.0).round(30.0 + R, 20.0 + R, -20.0).end()
}

fn cavity_text() -> String {
    // The band lies from x = 20.5 to 27.5: wide enough for the cutter, 2 mm of wood on either side, 6 mm deep.
    let mut t = Text::new();
    let (x0, x1) = (20.5 + R, 27.5 - R);
    t.over(x0, -15.0 + R).line("G0 Z1").to(x0, -15.0 + R, 0.5);
    for level in 1..=7 {
        let z = 0.5 - 6.5 * f64::from(level) / 7.0;
        t.to(x0, 15.0 - R, z).to(x1, 15.0 - R, z).to(x1, -15.0 + R, z).to(x0, -15.0 + R, z).to(x0, 15.0 - R, z);
        t.to(x0, -15.0 + R, z);
    }
    t.end()
}

fn look_text() -> String {
    "%\nG21 G90 G17 G94 G54 G40 G49 G80\nG0 Z20\nG0 X-40 Y-30\nM0\nG0 Z20\nG0 X40 Y30\nM0\nM2\n%\n".into()
}

fn axis() -> ZeroAxis {
    ZeroAxis { surface: "edge".into(), set_to: 0.0, check_surface: "edge".into(), expect: 0.0, within: 0.3 }
}

fn setup(id: &str, file: &str, face_up: Face, flipped: bool) -> Setup {
    let s = if flipped { -1.0 } else { 1.0 };
    // Program z = 0 on the rim plane; upside down the piece's z runs the other way.
    let shift = if flipped { 0.0 } else { 20.0 };
    Setup {
        id: id.into(),
        title: id.into(),
        face_up,
        program_to_piece: [1.0, 0.0, 0.0, 0.0, 0.0, s, 0.0, 0.0, 0.0, 0.0, s, shift, 0.0, 0.0, 0.0, 1.0],
        stock: Box3 { min: [-40.0, -30.0, -20.0], max: [40.0, 30.0, 0.5] },
        target: format!("models/{id}-target.stl"),
        keep: vec!["models/table.stl".into()],
        table_z: -20.0,
        machine_table_z: -20.0,
        work_offset: "G54".into(),
        holding: Holding {
            method: "tape".into(),
            says: "tape".into(),
            joint_z: -20.0,
            area_mm2: 4800.0,
            section_modulus_mm3: 48_000.0,
            shear_mpa: 0.2,
            tension_mpa: 0.1,
            factor: 3.0,
            glue: None,
            pressed: None,
            measured: None,
        },
        datums: Datums { A: "up".into(), B: "front".into(), C: "left".into() },
        zero: Zero { x: axis(), y: axis(), z: axis() },
        alignment: None,
        reference_spot: ReferenceSpot { at: [65.0, 0.0, -20.0], reads: -20.0, surface: "table".into() },
        programs: vec![ProgramSheet {
            file: file.into(),
            cutters: vec![3],
            duration_s: 60.0,
            cut_length_mm: 1000.0,
            rapid_length_mm: 100.0,
            restart_points: Vec::new(),
        }],
        look_first: LOOK.into(),
        inspect: Vec::new(),
        finishes_skin: id == "tray",
        only_roughs: false,
    }
}

fn step(id: &str, kind: StepKind, of: (Option<&str>, Option<&str>), change: Option<Change>) -> Step {
    Step {
        id: id.into(),
        kind,
        title: id.into(),
        needs: Vec::new(),
        gives: Vec::new(),
        duration_s: 60.0,
        wait_s: 0.0,
        hands_on_s: 60.0,
        setup: of.0.map(Into::into),
        cast: of.1.map(Into::into),
        says: Vec::new(),
        cautions: Vec::new(),
        figures: Vec::new(),
        change,
        grit: None,
    }
}

fn carve(id: &str) -> Vec<Step> {
    let s = (Some(id), None);
    vec![
        step(&format!("hold-{id}"), StepKind::Hold, s, None),
        step(&format!("zero-{id}"), StepKind::Zero, s, None),
        step(&format!("carve-{id}"), StepKind::Carve, s, Some(Change::Carve { setup: id.into() })),
    ]
}

/// The tray cut with the rim up, or (the piece then drawn upside down) with the foot up.
pub(crate) fn tray(foot_up: bool) -> Evidence {
    let shelf = shelf();
    let upright = cuboid(30.0, 20.0, 0.0, 20.0).minus(&cuboid(18.0, 10.0, 10.0, 30.0)).unwrap();
    let flip = DAffine3::from_mat3(DMat3::from_diagonal(DVec3::new(1.0, -1.0, -1.0)));
    let down = DAffine3::from_translation(DVec3::new(0.0, 0.0, 20.0)) * flip;
    let mut setup = setup("tray", FILE, Face::Rim, false);
    let (mut piece, mut table) = (upright, cuboid(100.0, 100.0, -20.0, 0.0));
    let mut board = ([-40.0, -30.0, 0.0], [40.0, 30.0, 20.5]);
    if foot_up {
        // The pocket looks down: the foot is up, program z = 0 at piece z = 0.
        setup = self::setup("tray", FILE, Face::Foot, true);
        (piece, table) = (piece.transformed(&down), table.transformed(&down));
        board = ([-40.0, -30.0, -0.5], [40.0, 30.0, 20.0]);
    }
    let mut steps = vec![
        step("mill", StepKind::Mill, (None, None), None),
        step("glue", StepKind::Glue, (None, None), None),
        step("trim", StepKind::Trim, (None, None), Some(Change::Blank)),
    ];
    if foot_up {
        steps.push(step("flip", StepKind::Flip, (None, None), Some(Change::Flip)));
    }
    steps.extend(carve("tray"));
    let models = BTreeMap::from([
        ("models/piece.stl".to_owned(), piece.clone()),
        ("models/tray-target.stl".to_owned(), piece),
        ("models/table.stl".to_owned(), table),
    ]);
    Evidence {
        promise: Promise { chord: 0.01, gouge: 0.01, scallop: 0.03, leftover: 0.02, pitch: 0.25 },
        machine: shelf.machine().unwrap().clone(),
        cutters: shelf.cutters.iter().filter(|c| c.number == 3 || c.number == 4).cloned().collect(),
        holding: shelf.holding.clone(),
        blank: Blank { boards: vec![BlankBoard { min: board.0, max: board.1, wood: "sugar maple".into() }] },
        piece: PieceFacts {
            model: "models/piece.stl".into(),
            height: 20.0,
            wall: if foot_up { 0.0 } else { 10.0 },
            floor: if foot_up { 0.0 } else { 10.0 },
            recess: 0.0,
            mark: None,
        },
        casts: Vec::new(),
        steps,
        setups: vec![setup],
        models,
        programs: BTreeMap::from([(FILE.to_owned(), tray_text()), (LOOK.to_owned(), look_text())]),
    }
}

/// The tray with a band of resin in its rim, 6 mm deep.
pub(crate) fn with_resin() -> Evidence {
    let mut e = tray(false);
    let shelf = shelf();
    let band = |top: f64| Mesh::cuboid(DVec3::new(20.5, -15.0, 14.0), DVec3::new(27.5, 15.0, top));
    let blank = cuboid(40.0, 30.0, 0.0, 20.5);
    e.models.insert("models/band.stl".into(), band(20.5));
    e.models.insert("models/band-in-piece.stl".into(), band(20.0));
    e.models.insert("models/cavity-target.stl".into(), blank.minus(&band(30.0)).unwrap());
    let resin = shelf.resins.iter().find(|r| r.layer_least <= 6.0 && r.layer_greatest >= 7.5 && !r.seal).unwrap();
    e.casts.push(CastFacts {
        name: "band".into(),
        hollow: "models/band.stl".into(),
        in_piece: "models/band-in-piece.stl".into(),
        resin: resin.clone(),
        translucent: false,
        to_mix_ml: 6.0,
        layers: vec![7.0],
        crossing_deg: 90.0,
        peaks_c: vec![[31.0, 38.0]],
        next_h: Vec::new(),
        carve_h: Some(60.0),
    });
    // The pour stands half a millimetre above the blank.
    e.setups[0].stock.max[2] = 1.0;
    e.setups.insert(0, setup("cavity", CAVITY, Face::Rim, false));
    e.programs.insert(CAVITY.into(), cavity_text());
    let c = (None, Some("band"));
    let pour = Change::Pour { cast: 0, from: vec![[24.0, 0.0]], level: 21.0, dam_offset: 7.0, dam_height: 6.0 };
    let mut middle = carve("cavity");
    middle.push(step("seal", StepKind::Seal, c, None));
    middle.push(step("dam", StepKind::Dam, c, None));
    middle.push(step("pour", StepKind::Pour, c, Some(pour)));
    middle.push(Step { wait_s: 72.0 * 3600.0, ..step("cure", StepKind::Cure, c, None) });
    let rest = e.steps.split_off(3);
    e.steps.extend(middle);
    e.steps.extend(rest);
    e
}
