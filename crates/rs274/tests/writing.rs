//! Writing, judged by reading back.

use proptest::prelude::*;
use rs274::interpret::{Event, What, run};
use rs274::write::{Act, Capabilities, Program, WriteError, write};

fn program(acts: Vec<Act>) -> Program {
    Program { title: "bowl (outside)".into(), remarks: vec![], work_offset: 54, safe_z: 15.0, acts }
}

fn cutter(number: u32) -> Act {
    Act::Cutter { number, note: "ball 6 mm".into() }
}

fn rapid(x: f64, y: f64, z: f64) -> Act {
    Act::Rapid { x: Some(x), y: Some(y), z: Some(z) }
}

#[test]
fn a_program_starts_and_ends_safely() {
    let can = Capabilities { spindle: true, start_wait_s: 8.0, air_relay: true, ..Capabilities::default() };
    let acts = vec![
        cutter(5),
        Act::Spindle { rpm: 16_000.0, by_hand: String::new() },
        Act::AirOn,
        Act::Rapid { x: Some(10.0), y: Some(-0.0001), z: None },
        Act::Feed { to: [10.0, 0.0, -1.2345], feed: 300.0 },
        Act::Feed { to: [20.0, 0.0, -1.2345], feed: 300.0 },
        Act::Feed { to: [20.0001, 0.0, -1.2345], feed: 300.0 },
        Act::Arc { to: [20.0, 10.0, -1.2345], centre: [20.0, 5.0], ccw: true, feed: 250.0 },
    ];
    let wanted = "%\n(bowl, outside)\nG21\nG17 G40 G49\nG80 G90 G94\nG54\nG0 Z15.000\n(Cutter 5: ball 6 mm)\n\
                  S16000 M3\nG4 P8.0\nM8\nG0 X10.000 Y0.000 Z15.000\nG1 Z-1.234 F300.0\nG1 X20.000\n\
                  G3 X25.000 Y5.000 I0.000 J5.000 F250.0\nG3 X20.000 Y10.000 I-5.000 J0.000\nG0 Z15.000\nM5\nM9\nM2\n%\n";
    assert_eq!(write(&program(acts), &can).unwrap(), wanted);
}

#[test]
fn a_machine_without_spindle_control_stops_for_the_person() {
    let acts = vec![cutter(3), Act::Spindle { rpm: 16_000.0, by_hand: "dial 3 (about 16 000)".into() }];
    let text = write(&program(acts), &Capabilities { line_numbers: true, ..Capabilities::default() }).unwrap();
    assert!(text.contains("(Switch the spindle on: dial 3, about 16 000)\nN60 M0\nN70 G0 Z15.000\n"), "{text}");
    assert!(!text.contains('S') || !text.contains("M3"), "{text}");
}

#[test]
fn a_second_cutter_is_a_stop_or_an_error() {
    let acts =
        vec![cutter(1), rapid(0.0, 0.0, 5.0), cutter(1), cutter(2), Act::Feed { to: [0.0, 0.0, 0.0], feed: 100.0 }];
    let one = write(&program(acts.clone()), &Capabilities::default());
    assert_eq!(one, Err(WriteError::SecondCutter { act: 3 }));
    let can = Capabilities { change_in_program: true, spindle: true, ..Capabilities::default() };
    let text = write(&program(acts), &can).unwrap();
    let change = "G0 Z15.000\nM5\n(Cutter 2: ball 6 mm)\nT2 M0\nG0 Z15.000\nG1 X0.000 Y0.000 Z0.000 F100.0\n";
    assert!(text.contains(change), "{text}");
    let cutters: Vec<_> = run(&text).unwrap().into_iter().filter(|e| matches!(e.what, What::Cutter(_))).collect();
    assert_eq!(cutters.iter().map(|e| &e.what).collect::<Vec<_>>(), [&What::Cutter(1), &What::Cutter(2)]);
}

#[test]
fn the_rest_of_a_program_can_be_read_alone() {
    let can = Capabilities { spindle: true, start_wait_s: 8.0, ..Capabilities::default() };
    let acts = vec![
        cutter(5),
        Act::Spindle { rpm: 16_000.0, by_hand: String::new() },
        Act::AirOn,
        rapid(0.0, 0.0, 15.0),
        Act::Feed { to: [0.0, 0.0, -1.0], feed: 300.0 },
        rapid(0.0, 0.0, 15.0),
        Act::Again,
        rapid(0.0, 9.0, 15.0),
        Act::Feed { to: [0.0, 9.0, -1.0], feed: 300.0 },
    ];
    let text = write(&program(acts), &can).unwrap();
    let at = text.lines().position(|l| l.contains(rs274::write::AGAIN)).unwrap();
    let rest: Vec<&str> = text.lines().skip(at).collect();
    let wanted = [
        "(Start again from this line)",
        "G21",
        "G17 G40 G49",
        "G80 G90 G94",
        "G54",
        "G0 Z15.000",
        "S16000 M3",
        "G4 P8.0",
        "(Air on)",
        "G0 X0.000 Y9.000 Z15.000",
        "G1 Z-1.000 F300.0",
    ];
    assert_eq!(rest[..wanted.len()], wanted);
    let moves = |text: &str| {
        let events = run(text).unwrap();
        let to = |e: &Event| match e.what {
            What::Straight { to, feed, .. } => Some((to, feed)),
            _ => None,
        };
        events.iter().filter_map(to).collect::<Vec<_>>()
    };
    let (whole, alone) = (moves(&text), moves(&rest.join("\n")));
    assert_eq!(whole[whole.len() - alone.len() + 1..], alone[1..]);
    let low = write(&program(vec![rapid(0.0, 0.0, 5.0), Act::Again]), &can);
    assert_eq!(low, Err(WriteError::NotSafe { act: 1 }));
}

/// The spindle stands still while a person reaches into the work, and is up to speed before it goes on.
#[test]
fn a_stop_at_which_a_person_reaches_the_work() {
    let acts = |by_hand: &str| {
        vec![
            cutter(5),
            Act::Spindle { rpm: 16_000.0, by_hand: by_hand.into() },
            rapid(0.0, 0.0, 2.0),
            Act::Feed { to: [0.0, 0.0, -1.0], feed: 300.0 },
            Act::Still("Take the chips out".into()),
            rapid(0.0, 9.0, 15.0),
        ]
    };
    let after = |acts, can: &Capabilities| {
        let text = write(&program(acts), can).unwrap();
        let lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let at = lines.iter().position(|l| l.starts_with("G1 ")).unwrap();
        lines[at + 1..].to_vec()
    };
    let can = Capabilities { spindle: true, start_wait_s: 8.0, ..Capabilities::default() };
    let by_program = [
        "G0 Z15.000",
        "M5",
        "(Take the chips out)",
        "M0",
        "G0 Z15.000",
        "S16000 M3",
        "G4 P8.0",
        "G0 X0.000 Y9.000 Z15.000",
    ];
    assert_eq!(after(acts(""), &can)[..by_program.len()], by_program);
    let by_hand = [
        "G0 Z15.000",
        "(Switch the spindle off. Take the chips out)",
        "(Then switch it on again: dial 3)",
        "M0",
        "G0 Z15.000",
        "G0 X0.000 Y9.000 Z15.000",
    ];
    assert_eq!(after(acts("dial 3"), &Capabilities::default())[..by_hand.len()], by_hand);
}

#[test]
fn what_cannot_be_said_is_refused() {
    let of = |act: Act| write(&program(vec![rapid(0.0, 0.0, 5.0), act]), &Capabilities::default()).unwrap_err();
    let feed = |to, feed| of(Act::Feed { to, feed });
    assert_eq!(feed([f64::NAN, 0.0, 0.0], 100.0), WriteError::NotANumber { act: 1 });
    assert_eq!(feed([1e9, 0.0, 0.0], 100.0), WriteError::TooFar { act: 1 });
    assert_eq!(feed([1.0, 0.0, 0.0], 0.0), WriteError::NoFeed { act: 1 });
    assert_eq!(feed([1.0, 0.0, 0.0], f64::NAN), WriteError::NoFeed { act: 1 });
    assert_eq!(of(Act::Dwell(-1.0)), WriteError::BadDwell { act: 1 });
    let arc = Act::Arc { to: [10.0, 0.0, 5.0], centre: [4.0, 0.0], ccw: true, feed: 100.0 };
    assert_eq!(of(arc), WriteError::ArcRadius { act: 1, difference: 2.0 });
    let cut = Act::Feed { to: [0.0; 3], feed: 100.0 };
    let unknown = write(&program(vec![cut]), &Capabilities::default());
    assert_eq!(unknown, Err(WriteError::UnknownStart { act: 0 }));
    let nowhere = Program { work_offset: 0, ..program(vec![]) };
    assert_eq!(write(&nowhere, &Capabilities::default()), Err(WriteError::WorkOffset { offset: 0 }));
}

/// The points of a read program: ends of moves, and points along its arcs, with the feed.
fn trace(events: &[Event]) -> Vec<([f64; 3], Option<f64>)> {
    let mut points = Vec::new();
    for event in events {
        match &event.what {
            What::Straight { to, feed, .. } => points.push((*to, *feed)),
            What::Arc { from, to, centre, sweep, feed, .. } => {
                let start = (from[1] - centre[1]).atan2(from[0] - centre[0]);
                let radius = (from[0] - centre[0]).hypot(from[1] - centre[1]);
                for k in 1..8 {
                    let share = f64::from(k) / 8.0;
                    let angle = start + sweep * share;
                    let z = from[2] + (to[2] - from[2]) * share;
                    points.push(([centre[0] + radius * angle.cos(), centre[1] + radius * angle.sin(), z], Some(*feed)));
                }
                points.push((*to, Some(*feed)));
            }
            _ => {}
        }
    }
    points
}

fn any_capabilities() -> impl Strategy<Value = Capabilities> {
    (any::<[bool; 6]>(), 0..2_u32).prop_map(
        |([arcs, inch, spindle, air_relay, line_numbers, change_in_program], more)| {
            let decimals = if inch { 4 + more } else { 3 + more };
            Capabilities {
                arcs,
                inch,
                decimals,
                spindle,
                start_wait_s: 2.0,
                air_relay,
                line_numbers,
                change_in_program,
            }
        },
    )
}

fn coordinate() -> impl Strategy<Value = f64> {
    prop_oneof![-200.0..200.0, (-2000..2000_i32).prop_map(|k| f64::from(k) / 10.0)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn straight_moves_come_back_with_z_never_lower(
        can in any_capabilities(),
        ends in proptest::collection::vec((coordinate(), coordinate(), coordinate(), 1.0..5000.0_f64), 1..30),
    ) {
        let mut acts = vec![rapid(0.5, 0.25, 10.0)];
        acts.extend(ends.iter().map(|&(x, y, z, feed)| Act::Feed { to: [x, y, z], feed }));
        let text = write(&program(acts), &can).unwrap();
        prop_assert!(!text.contains("-0.000 ") && !text.contains("-0.0000 ") && text.is_ascii());
        prop_assert!(text.lines().all(|line| line.len() <= 80));
        let step = if can.inch { 25.4 } else { 1.0 } * 10_f64.powi(-(can.decimals as i32));
        let points = trace(&run(&text).unwrap());
        let cuts: Vec<_> = points.iter().filter(|(_, feed)| feed.is_some()).collect();
        prop_assert_eq!(cuts.len(), ends.len());
        for ((to, feed), &(x, y, z, wanted)) in cuts.iter().zip(&ends) {
            prop_assert!((to[0] - x).abs() <= step * 0.5001 && (to[1] - y).abs() <= step * 0.5001);
            prop_assert!(to[2] >= z - step * 1e-5 && to[2] < z + step * 1.0001, "{} for {}", to[2], z);
            prop_assert!(feed.unwrap() <= wanted + 1e-5 && feed.unwrap() > wanted - 0.26);
        }
        prop_assert!(points[0].0[2] >= 15.0 && points[points.len() - 1].0[2] >= 15.0);
    }

    #[test]
    fn arcs_come_back_where_they_were_asked(
        can in any_capabilities(),
        centre in (coordinate(), coordinate()),
        radius in 0.003..150.0_f64,
        start in 0.0..6.2_f64,
        turn in prop_oneof![0.0001..6.2_f64, Just(std::f64::consts::TAU)],
        rise in -5.0..5.0_f64,
        ccw in any::<bool>(),
    ) {
        let at = |angle: f64, z: f64| [centre.0 + radius * angle.cos(), centre.1 + radius * angle.sin(), z];
        let sweep = if ccw { turn } else { -turn };
        let from = at(start, 1.0);
        let mut to = at(start + sweep, 1.0 + rise);
        if turn == std::f64::consts::TAU {
            (to[0], to[1]) = (from[0], from[1]);
        }
        let acts = vec![rapid(from[0], from[1], from[2]), Act::Arc { to, centre: [centre.0, centre.1], ccw, feed: 500.0 }];
        let text = write(&program(acts), &can).unwrap();
        let events = run(&text).unwrap();
        let step = if can.inch { 25.4 } else { 1.0 } * 10_f64.powi(-(can.decimals as i32));
        let near = 0.002 + 1.5 * step;
        let mut swept = 0.0;
        let mut last = from;
        for (p, _) in trace(&events).iter().filter(|(_, feed)| feed.is_some()) {
            let (r, was) = ([p[0] - centre.0, p[1] - centre.1], [last[0] - centre.0, last[1] - centre.1]);
            prop_assert!((r[0].hypot(r[1]) - radius).abs() <= near, "{} for {}\n{}", r[0].hypot(r[1]), radius, text);
            swept += (was[0] * r[1] - was[1] * r[0]).atan2(was[0] * r[0] + was[1] * r[1]);
            // Along the way the height follows the angle, within the rounding of the ends.
            let z = 1.0 + rise * swept / sweep;
            if radius > 1.0 && turn * radius > 1.0 {
                prop_assert!((p[2] - z).abs() <= 1.01 * step + 5.0 * 3.0 * step / (turn * radius), "{} for {z}", p[2]);
            }
            last = *p;
        }
        let quarter = events.iter().all(|e| !matches!(e.what, What::Arc { sweep, .. } if sweep.abs() > 1.75));
        prop_assert!(quarter, "{}", text);
        if radius > 0.5 {
            prop_assert!((swept - sweep).abs() * radius <= 4.0 * step, "{swept} for {sweep}\n{}", text);
        }
        prop_assert!((last[0] - to[0]).abs() <= step && (last[1] - to[1]).abs() <= step);
    }

    #[test]
    fn any_words_make_a_readable_comment(title in "\\PC{0,200}", note in any::<String>()) {
        let acts = vec![Act::Say(note.clone()), Act::Cutter { number: 1, note: note.clone() }, Act::Pause(note.clone())];
        let text = write(&Program { title, remarks: vec![note], ..program(acts) }, &Capabilities::default()).unwrap();
        prop_assert!(text.is_ascii() && text.lines().all(|line| line.len() <= 80));
        prop_assert!(run(&text).is_ok(), "{:?}", run(&text));
    }
}

/// A mistake shared by reader and writer would read back as right.
#[test]
fn reader_and_writer_share_no_code() {
    let files = |folder: &str| -> String {
        let root = concat!(env!("CARGO_MANIFEST_DIR"), "/src");
        let parts = std::fs::read_dir(format!("{root}/{folder}")).unwrap().map(|entry| entry.unwrap().path());
        let all: Vec<_> = parts.chain([format!("{root}/{folder}.rs").into()]).collect();
        assert!(all.len() > 3);
        all.iter().map(|path| std::fs::read_to_string(path).unwrap()).collect()
    };
    assert!(!files("write").contains("interpret::") && !files("interpret").contains("write::"));
}
