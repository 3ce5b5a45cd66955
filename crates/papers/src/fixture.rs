//! A small made-up plan for the tests: a block with a resin-filled groove and a pocket. Its figures are not meant to cut.

use base::{Figure, Figures, Input, Source, Units};
use geom::{DVec3, Mesh};
use proof::{Check, Proof, Snapshot, State, Where};
use route::*;
use std::collections::BTreeMap;
use trade::cutter::{Form, HolderPart, Solid};
use trade::shelf::*;
use workpiece::*;

/// A box from its corners.
pub(crate) fn block(min: [f64; 3], max: [f64; 3]) -> Mesh {
    let corner = |k: usize| {
        let pick = |axis: usize| if k >> axis & 1 == 1 { max[axis] } else { min[axis] };
        DVec3::new(pick(0), pick(1), pick(2))
    };
    #[rustfmt::skip]
    let triangles = vec![
        [0, 2, 1], [1, 2, 3], [4, 5, 6], [5, 7, 6], [0, 1, 4], [1, 5, 4],
        [2, 6, 3], [3, 6, 7], [0, 4, 2], [2, 4, 6], [1, 3, 5], [3, 7, 5],
    ];
    Mesh { vertices: (0..8).map(corner).collect(), triangles }
}

fn machine() -> Machine {
    Machine {
        name: "bench router".into(),
        at: None,
        travel: [600.0, 400.0, 100.0],
        gap: 150.0,
        spindle: SpindleControl::Dial { rpm: vec![10_000.0, 13_000.0, 16_000.0, 20_000.0] },
        power_w: 700.0,
        holder: vec![HolderPart { diameter: 27.0, length: 20.0 }, HolderPart { diameter: 43.0, length: 60.0 }],
        collets: vec![6.0, 6.35],
        feed_max: [4000.0, 1500.0],
        rapid: [6000.0, 2000.0],
        acceleration: [300.0, 150.0],
        corner: 0.02,
        stiffness_n_mm: 60.0,
        backlash: 0.05,
        squareness_mm_m: 0.5,
        lean_mm_m: 1.0,
        flip_measured: None,
        blocks_per_s: 200.0,
        arcs: true,
        cutter_change: CutterChange::FilePerCutter,
        decimals: [3, 4],
        inch: false,
        air_relay: false,
        extraction: false,
        line_numbers: false,
        chip_load_share: 0.5,
        step_down_d: 0.5,
    }
}

fn cutter(number: u32, name: &str, form: Form) -> Cutter {
    Cutter {
        number,
        at: None,
        name: name.into(),
        solid: Solid {
            form,
            diameter: 6.35,
            flute_length: 25.0,
            neck_diameter: 6.35,
            neck_length: 25.0,
            shank_diameter: 6.35,
            stickout: 40.0,
            holder: vec![],
        },
        flutes: 2,
        overall: 76.0,
        helix_deg: 30.0,
        fz_wood: 0.05,
        fz_resin: 0.06,
        rpm_max: 24_000.0,
        plunges: true,
    }
}

fn resin() -> Resin {
    Resin {
        name: "medium casting".into(),
        hardener_by_volume: 0.5,
        hardener_by_mass: 0.45,
        density_g_ml: 1.1,
        viscosity_mpa_s: 600.0,
        pot_life_min: 60.0,
        layer_least: 6.0,
        layer_greatest: 25.0,
        gel_h: 8.0,
        recoat_h: [6.0, 24.0],
        carve_h: 72.0,
        cure_h: 168.0,
        shrink: 0.02,
        tg_c: 50.0,
        heat_j_g: None,
        activation_kj_mol: None,
        film_gel_h: None,
        peak_c: None,
        sheet_peak: None,
        least_c: 18.0,
        price_kg: 30.0,
        seal: false,
        packs_g: vec![750.0, 1500.0],
    }
}

fn holding() -> HoldingGoods {
    HoldingGoods {
        tape_stack: 0.3,
        tape_cover: 0.8,
        tape_shear_mpa: 0.1,
        tape_tension_mpa: 0.05,
        tape_factor: 3.0,
        glue_factor: 2.5,
        glue_film: 0.1,
        carrier: 18.0,
        carrier_bond_mpa: 0.55,
        pallet: 0.0,
        tape_measured: None,
    }
}

fn step(id: &str, kind: StepKind, title: &str, needs: &[&str], change: Option<Change>) -> Step {
    Step {
        id: id.into(),
        kind,
        title: title.into(),
        needs: needs.iter().map(|s| (*s).into()).collect(),
        gives: vec![],
        duration_s: 1800.0,
        wait_s: 0.0,
        hands_on_s: 900.0,
        setup: None,
        cast: None,
        says: vec![],
        cautions: vec![],
        figures: vec![],
        change,
        grit: None,
    }
}

fn steps() -> Vec<Step> {
    let mut glue = step("glue", StepKind::Glue, "Glue the blank", &["mill"], Some(Change::Blank));
    glue.wait_s = 86_400.0;
    glue.says = vec![
        "Spread glue on one face of each joint, thin and even, and close the joint within 5 minutes.".into(),
        "Six clamps, a third of a turn each in rounds, until a thin bead stands along every joint.".into(),
    ];
    glue.cautions = vec!["A slipping clamp or a bowing blank lets go at once: keep your face out of line.".into()];
    let carve = |setup: &str| Some(Change::Carve { setup: setup.into() });
    let mut hold = step("cavity-hold", StepKind::Hold, "Tape the blank down", &["glue"], None);
    hold.setup = Some("cavity".into());
    let mut groove = step("cavity-carve", StepKind::Carve, "Carve the groove", &["cavity-hold"], carve("cavity"));
    groove.setup = Some("cavity".into());
    groove.says = vec![
        "Rim face up, notch at the back left. If the notch is anywhere else, stop: the blank has been turned the wrong \
         way."
            .into(),
        "Run the look-first program with the spindle off; then program 01."
            .into(),
    ];
    groove.cautions = vec![
        "Never leave a running job alone. Hand on the stop while the cutter enters.".into(),
        "Eye and ear protection; collect the dust at the cutter.".into(),
    ];
    let pour = Change::Pour { cast: 0, from: vec![[0.0, 30.0]], level: 40.5, dam_offset: 6.0, dam_height: 5.0 };
    let mut poured = step("pour-line-1", StepKind::Pour, "Pour the line, layer 1 of 1", &["cavity-carve"], Some(pour));
    poured.cast = Some("line".into());
    poured.wait_s = 259_200.0;
    poured.says =
        vec!["48 g in all: 33 g of A, then 15 g of B. Pour it within 60 minutes, from the lowest point.".into()];
    let mut pocket = step("tray-carve", StepKind::Carve, "Carve the pocket", &["pour-line-1"], carve("tray"));
    pocket.setup = Some("tray".into());
    pocket.figures = vec![base::FigureId("piece.volume".into())];
    vec![
        step("mill", StepKind::Mill, "Mill the boards", &[], None),
        glue,
        hold,
        groove,
        poured,
        pocket,
        step("sand", StepKind::Sand, "Sand", &["tray-carve"], None),
    ]
}

fn zero_axis(surface: &str, set_to: f64) -> ZeroAxis {
    ZeroAxis {
        surface: surface.into(),
        set_to,
        check_surface: format!("the far side of {surface}"),
        expect: 64.3,
        within: 0.3,
    }
}

/// Cavity and tray are cut from the rim side: the program's zero is the rim face at piece z = 40.
fn setup(id: &str, title: &str, number: usize) -> Setup {
    #[rustfmt::skip]
    let program_to_piece = [
        1.0, 0.0, 0.0, 0.0,
        0.0, 1.0, 0.0, 0.0,
        0.0, 0.0, 1.0, 40.0,
        0.0, 0.0, 0.0, 1.0,
    ];
    Setup {
        id: id.into(),
        title: title.into(),
        face_up: Face::Rim,
        program_to_piece,
        stock: Box3 { min: [-90.0, -60.0, -40.0], max: [90.0, 60.0, 0.0] },
        target: format!("models/setup-{id}-target.stl"),
        keep: vec![format!("models/keep-{id}-table.stl")],
        table_z: -40.3,
        machine_table_z: -40.3,
        work_offset: "G54".into(),
        holding: Holding {
            method: "tape".into(),
            says: "Tape with instant glue over the whole foot face, strips side by side, not lapped.".into(),
            joint_z: -40.0,
            area_mm2: 17_280.0,
            section_modulus_mm3: 345_600.0,
            shear_mpa: 0.1,
            tension_mpa: 0.05,
            factor: 3.0,
            glue: None,
            pressed: None,
            measured: None,
        },
        datums: Datums { A: "up".into(), B: "towards you".into(), C: "left".into() },
        zero: Zero {
            x: zero_axis("the centre between both short edges", 0.0),
            y: zero_axis("the centre between both long edges", 0.0),
            z: zero_axis("the table beside the blank", -0.05),
        },
        alignment: None,
        reference_spot: ReferenceSpot { at: [-100.0, 0.0, -40.3], reads: -40.3, surface: "the bare table".into() },
        programs: vec![ProgramSheet {
            file: format!("programs/{number:02}-{id}-T1.nc"),
            cutters: vec![1],
            duration_s: 1500.0,
            cut_length_mm: 32_000.0,
            rapid_length_mm: 2500.0,
            restart_points: vec![RestartPoint { line: 120, at: [10.0, 0.0, 5.0], time_s: 600.0 }],
        }],
        look_first: format!("programs/{:02}-{id}-look.nc", number - 1),
        inspect: vec![InspectPoint {
            what: "wall at the front, half way down".into(),
            at: [0.0, -50.0, 20.0],
            expect: 6.0,
            within: 0.4,
        }],
        finishes_skin: id == "tray",
        only_roughs: false,
    }
}

fn models() -> BTreeMap<String, Mesh> {
    let piece = block([-90.0, -60.0, 0.0], [90.0, 60.0, 40.0 + 1.0 / 3.0]);
    let mut models = BTreeMap::new();
    for name in ["models/piece", "models/blank", "models/setup-cavity-target", "models/setup-tray-target"] {
        models.insert(name.to_owned(), piece.clone());
    }
    for name in ["models/keep-cavity-table", "models/keep-tray-table"] {
        models.insert(name.to_owned(), block([-300.0, -200.0, -30.0], [300.0, 200.0, -0.3]));
    }
    models.insert("models/cast-line".into(), block([-70.0, 40.0, 28.0], [70.0, 50.0, 40.0]));
    models.insert("models/cast-line-hollow".into(), block([-70.0, 40.0, 28.0], [70.0, 50.0, 40.5]));
    models.insert("models/cast-line-poured".into(), block([-70.0, 40.0, 28.0], [70.0, 50.0, 40.5]));
    models
}

/// The plan.
pub(crate) fn plan() -> Plan {
    let mut figures = Figures::default();
    let literal = Input::literal(180.0, "mm", "job: piece.outline");
    figures.put("piece.volume", Figure::new(430.1, "ml", "V = Σ z · A", vec![literal], Source::Derived));
    let mut programs = BTreeMap::new();
    let setups = vec![setup("cavity", "Cavity", 1), setup("tray", "Tray", 3)];
    for s in &setups {
        programs.insert(s.look_first.clone(), "G21 G90 G54\nG0 Z20\nM0\nM30\n".to_owned());
        programs.insert(s.programs[0].file.clone(), "G21 G90 G54\nG0 Z20\nM30\n".to_owned());
    }
    Plan {
        title: "Line tray".into(),
        units: Units::Mm,
        chord: 0.01,
        scallop: 0.03,
        piece: PieceSheet {
            size: [180.0, 120.0, 40.0],
            volume_ml: 430.1,
            wood_ml: 413.3,
            min_wall: 6.0,
            min_floor: 7.0,
            wall: 6.0,
            floor: 7.0,
            recess: 0.0,
            mark: None,
        },
        wood: "walnut".into(),
        wood_colour: [112, 78, 54],
        machine: machine(),
        holding: holding(),
        cutters: vec![cutter(1, "flat 1/4 in", Form::Flat), cutter(2, "ball 1/4 in, long", Form::Ball)],
        blank: blank(),
        casts: vec![cast()],
        steps: steps(),
        setups,
        figures,
        models: models(),
        programs,
        buy: vec![BuyLine {
            item: "walnut 8/4".into(),
            quantity: 3.5,
            unit: "board foot".into(),
            price: 14.0,
            cost: 49.0,
            used: 3.5,
            used_cost: 49.0,
            note: "straight grain".into(),
        }],
        cuts: vec![CutLine {
            part: "strip".into(),
            wood: "walnut".into(),
            board: "8/4".into(),
            thickness: 40.0,
            width: 40.0,
            length: 180.0,
            count: 3,
            note: "grain along the length".into(),
        }],
        layouts: vec![BoardLayout {
            board: "walnut 8/4, 900 mm × 120 mm".into(),
            rough: 50.8,
            length: 900.0,
            width: 120.0,
            ends: 60.0,
            kerf: 3.2,
            parts: vec![
                LaidPart { line: 1, along: [60.0, 240.0], across: [0.0, 43.0] },
                LaidPart { line: 1, along: [60.0, 240.0], across: [46.2, 89.2] },
                LaidPart { line: 1, along: [480.0, 660.0], across: [0.0, 43.0] },
            ],
            defects: vec![LaidDefect { what: "knot".into(), along: [300.0, 340.0], across: [20.0, 60.0] }],
            offcuts: vec![[[480.0, 840.0], [46.2, 120.0]]],
            cuts: vec![
                SawCut { rip: false, at: 476.8, along: [60.0, 840.0], across: [0.0, 120.0] },
                SawCut { rip: true, at: 43.0, along: [60.0, 476.8], across: [0.0, 120.0] },
            ],
            says: vec![
                "Cut 60.0 mm off both ends: checks and snipe.".into(),
                "1: crosscut 476.8 mm from the first end.".into(),
            ],
        }],
        calendar: vec![CalendarEntry {
            step: "mill".into(),
            title: "Mill the boards".into(),
            start: "2026-12-01T08:30".into(),
            end: "2026-12-01T10:00".into(),
            waiting: false,
        }],
        cost: Cost {
            currency: "EUR".into(),
            materials: 49.0,
            hands: 60.0,
            machine: 20.0,
            overhead: 12.0,
            total: 141.0,
        },
        assumed: vec!["The tape holds 0.1 MPa in shear before the safety factor; nobody measured it here.".into()],
    }
}

fn cast() -> CastPlan {
    CastPlan {
        name: "line".into(),
        resin: resin(),
        colour: [32, 110, 130],
        translucent: false,
        poured_ml: 17.5,
        in_piece_ml: 16.8,
        to_mix_ml: 22.0,
        layers: vec![CastLayer {
            depth: 12.5,
            ml: 17.5,
            resin_g: 33.0,
            hardener_g: 15.0,
            resin_ml: 29.0,
            hardener_ml: 14.5,
            cups: 2,
        }],
        seal_g: 3.0,
        pigment_g: 1.0,
        dam_length: 400.0,
        level: 40.5,
        crossing_deg: 90.0,
        curing: route::Curing::default(),
    }
}

/// Three strips glued side by side.
pub(crate) fn blank() -> Blank {
    let strip = |k: i32| BlankBoard {
        min: [-90.0, -60.0 + 40.0 * f64::from(k), 0.0],
        max: [90.0, -20.0 + 40.0 * f64::from(k), 40.0],
        wood: "walnut".into(),
    };
    Blank { boards: (0..3).map(strip).collect() }
}

/// The proof, without snapshots.
pub(crate) fn proof() -> Proof {
    let check = |id: &str, title: &str, state: State| Check {
        id: id.into(),
        title: title.into(),
        state,
        value: 0.004,
        limit: 0.02,
        unit: "mm".into(),
        sense: "at most".into(),
        place: Some(Where { setup: Some("tray".into()), program: None, line: Some(12), at: Some([1.0, 2.0, 3.0]) }),
        remedy: (state != State::Holds).then(|| "Use a smaller stepover.".into()),
        assumed: vec![],
        map: None,
    };
    let burn = proof::Map {
        title: "Share of the asked chip load that the machine reaches".into(),
        unit: "1".into(),
        limit: None,
        setup: Some("tray".into()),
        first: [-89.5, -59.5],
        pitch: 1.0,
        nx: 180,
        values: (0..180 * 120).map(|i| (i % 7 > 0).then_some((i % 180) as f32 / 180.0)).collect(),
    };
    Proof {
        checks: vec![
            check("gouge.tray", "The cutter never cuts below the finished skin", State::Holds),
            Check { map: Some(burn), ..check("rubbing.tray", "The chip load is reached", State::Watch) },
        ],
        snapshots: vec![],
        made_ml: vec![413.0, 16.9],
    }
}

/// The workpiece after each step that changes it: blank, groove, resin in it, pocket; columns `pitch` apart.
pub(crate) fn snapshots(pitch: f64) -> Vec<Snapshot> {
    let plan = plan();
    let clear = workpiece::cut::Clearances { shank: 0.25, holder: 2.0 };
    let solid = plan.cutters[0].solid_in(&plan.machine);
    let ball = plan.cutters[1].solid_in(&plan.machine);
    let mut piece = Workpiece::new(&plan.blank, pitch);
    let mut out = Vec::new();
    let mut keep = |step: &str, piece: &Workpiece| {
        out.push(Snapshot { step: step.into(), workpiece: piece.clone() });
    };
    keep("glue", &piece);
    // A wavy groove along the back edge, 12 mm deep.
    let wave = |k: i32| {
        let x = -70.0 + f64::from(k) * 2.0;
        [x, 42.0 + 5.0 * (x / 14.0).sin(), 28.0]
    };
    let groove: Vec<Sweep> = (0..70).map(|k| Sweep { from: wave(k), to: wave(k + 1) }).collect();
    piece.cut(&ball, &groove, clear, &base::Quiet).unwrap();
    keep("cavity-carve", &piece);
    let report = piece.pour(0, [wave(35)[0], wave(35)[1]], 40.0, None);
    assert!(report.volume_mm3 > 0.0, "{report:?}");
    keep("pour-line-1", &piece);
    // A pocket with round corners, floor at 7 mm, and the outside brought in at the corners.
    let mut pocket = Vec::new();
    for k in 0..=26 {
        let y = -48.0 + f64::from(k) * 3.0;
        pocket.push(Sweep { from: [-76.0, y, 7.0], to: [76.0, y, 7.0] });
    }
    piece.cut(&solid, &pocket, clear, &base::Quiet).unwrap();
    let centre = |x: f64, y: f64, a: f64| [x + 34.0 * a.cos(), y + 34.0 * a.sin(), 0.0];
    let mut corners = Vec::new();
    for (x, y, turn) in [(60.0, 30.0, 0.0), (-60.0, 30.0, 1.0), (-60.0, -30.0, 2.0), (60.0, -30.0, 3.0)] {
        let at = |k: i32| centre(x, y, (turn + f64::from(k) / 16.0) * std::f64::consts::FRAC_PI_2);
        corners.extend((0..16).map(|k| Sweep { from: at(k), to: at(k + 1) }));
    }
    piece.cut(&solid, &corners, clear, &base::Quiet).unwrap();
    keep("tray-carve", &piece);
    out
}
