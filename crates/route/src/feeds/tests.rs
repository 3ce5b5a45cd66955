//! Feeds judged by hand: each limit on its own, stretches that change, speeds of the spindle.

use super::*;
use crate::choose::speeds;
use crate::operation::Chord;

/// A cutter of the default shelf on one of its machines, in walnut, well held.
pub(super) fn with_cutting(machine: &str, cutter: u32, run: impl FnOnce(&Cutting<'_>)) {
    let (shelf, _) = trade::parse(trade::DEFAULT_SHELF, base::FileId(0));
    let shelf = shelf.unwrap();
    let machine = shelf.machines.iter().find(|m| m.name == machine).unwrap();
    let cutter = shelf.cutter(cutter).unwrap();
    let planned = speeds(cutter, machine, false);
    let wood = shelf.wood("black walnut").unwrap();
    run(&Cutting { holding: &held(1.0), cutter, machine, wood, hidden: false, unsure: 0.0, planned: &planned });
}

/// A joint of a large face, of so many times the strength of tape.
fn held(times: f64) -> Holding {
    Holding {
        method: "tape".into(),
        says: String::new(),
        joint_z: -40.0,
        area_mm2: 40_000.0,
        section_modulus_mm3: 1.3e6,
        shear_mpa: 0.05 * times,
        tension_mpa: 0.05 * times,
        factor: 3.0,
        glue: None,
        pressed: None,
        measured: None,
    }
}

/// Side cuts along X, `width` wide and `depth` deep, each so long, one after the other; with what they take.
fn side_cuts(feed: f64, depth: f64, cuts: &[(f64, f64, bool)]) -> (Vec<Move>, Vec<(Chord, MoveCut)>) {
    let mut moves = vec![Move::Rapid { to: [0.0, 0.0, -depth] }];
    let mut took = Vec::new();
    let mut x = 0.0;
    for (of, &(length, width, resin)) in (1..).zip(cuts) {
        let n = (length / 2.0).ceil();
        for i in 0..n as usize {
            let from = x + length * i as f64 / n;
            let to = x + length * (i + 1) as f64 / n;
            let cut = MoveCut {
                removed_mm3: (depth * width * (to - from)) as f32,
                swept_mm2: (width * (to - from)) as f32,
                deepest_mm: if width > 0.0 { depth as f32 } else { 0.0 },
                resin_mm3: if resin { (depth * width * (to - from)) as f32 } else { 0.0 },
                wood: !resin && width > 0.0,
                ..MoveCut::default()
            };
            took.push((Chord { from: [from, 0.0, -depth], to: [to, 0.0, -depth], of }, cut));
        }
        x += length;
        moves.push(Move::Feed { to: [x, 0.0, -depth], feed });
    }
    (moves, took)
}

fn feeds_of(what: &Cutting<'_>, depth: f64, cuts: &[(f64, f64, bool)]) -> (Vec<f64>, Decided) {
    let (moves, took) = side_cuts(what.planned.feed, depth, cuts);
    let decided = decided(&moves, &took, what);
    (decided.moves.iter().filter_map(Move::feed).collect(), decided)
}

/// Within a step of the ladder of feeds, never above.
fn about(got: f64, want: f64) {
    assert!(got <= want + 1e-6 && got >= want / 1.15 - 10.0, "{got}, want {want}");
}

#[test]
fn thin_chips_are_made_good_up_to_the_cap() {
    // 3/8 in, 16 000 rev/min, two flutes, 0.18 mm: 5760 mm/min full; the machine's 6000 bound. So the 1/4 in: 0.12, 18 000: 4320.
    with_cutting("sturdy", 3, |what| {
        let d = what.cutter.solid.diameter;
        let (full, _) = feeds_of(what, 2.0, &[(200.0, 0.5 * d, false)]);
        about(full[0], 4320.0);
        // At a tenth of the diameter the factor is 1.6667: beyond the axes.
        let (thin, decided) = feeds_of(what, 2.0, &[(2000.0, 0.1 * d, false)]);
        about(thin[0], 6000.0);
        assert!(decided.bound_s[Limit::Axes.index()] > 0.0);
    });
    with_cutting("sturdy", 12, |what| {
        // 3 mm, 20 000, 0.04: 1600 full, ×1.6667, and ×2 at most, of which 0.85 are made use of.
        about(feeds_of(what, 1.0, &[(200.0, 1.5, false)]).0[0], 1600.0);
        about(feeds_of(what, 1.0, &[(200.0, 0.3, false)]).0[0], 0.85 * 1600.0 * 1.6667);
        about(feeds_of(what, 1.0, &[(200.0, 0.01, false)]).0[0], 0.85 * 3200.0);
    });
}

#[test]
fn wood_and_resin_are_told_apart_along_one_move() {
    with_cutting("sturdy", 3, |what| {
        let (mut moves, mut took) =
            side_cuts(what.planned.feed, 2.0, &[(100.0, 3.2, false), (60.0, 3.2, true), (100.0, 3.2, false)]);
        // One single stroke over all three.
        moves.drain(1..3);
        took.iter_mut().for_each(|(chord, _)| chord.of = 1);
        let Decided { moves, speeds, .. } = decided(&moves, &took, what);
        // 6 m/s on 6.35 mm is 18 046: the cutter's own 18 000 serves.
        assert_eq!(speeds.rpm, 18_000.0);
        let feeds: Vec<f64> = moves.iter().filter_map(Move::feed).collect();
        let [before, resin, after] = feeds[..] else { panic!("{moves:?}") };
        about(before, 4320.0);
        about(resin, 2880.0);
        assert_eq!(before, after);
        let ends: Vec<f64> = moves.iter().map(|m| m.to()[0]).collect();
        assert!(ends[1] < 100.0 && ends[2] > 160.0 && ends[3] == 260.0, "slow before resin is reached: {ends:?}");
    });
}

#[test]
fn each_limit_lowers_the_feed_and_is_named() {
    with_cutting("sturdy", 2, |what| {
        let full = |what: &Cutting<'_>| feeds_of(what, 9.0, &[(300.0, 4.0, false)]);
        let bound = |d: &Decided| {
            let most = (0..Limit::ALL.len()).max_by(|a, b| d.bound_s[*a].total_cmp(&d.bound_s[*b]));
            Limit::ALL[most.unwrap()]
        };
        let strong = held(50.0);
        let easy = Cutting { holding: &strong, ..*what };
        let roomy = what.planned.clone().leaving(f64::INFINITY);
        let easy = Cutting { planned: &roomy, ..easy };
        let (fast, decided) = full(&easy);
        assert_eq!(bound(&decided), Limit::Chip);

        let loose = held(0.1);
        let (slower, decided) = full(&Cutting { holding: &loose, ..easy });
        assert!(slower[0] < fast[0] && bound(&decided) == Limit::Holding, "{slower:?} {decided:?}");

        let weak = Machine { power_w: 80.0, ..what.machine.clone() };
        let (slower, decided) = full(&Cutting { machine: &weak, ..easy });
        assert!(slower[0] < fast[0] && bound(&decided) == Limit::Power, "{slower:?} {:?}", decided.bound_s);

        let finish = what.planned.clone().leaving(0.0);
        let (slower, decided) = full(&Cutting { planned: &finish, ..easy });
        assert!(slower[0] < fast[0] && bound(&decided) == Limit::Bending, "{slower:?} {:?}", decided.bound_s);

        let mut thin = what.cutter.clone();
        thin.solid.neck_diameter = 2.4;
        thin.solid.neck_length = 70.0;
        let (slower, decided) = full(&Cutting { cutter: &thin, ..easy });
        assert!(slower[0] < fast[0] && bound(&decided) == Limit::Strength, "{slower:?} {:?}", decided.bound_s);
    });
}

#[test]
fn the_spindle_slows_down_where_the_machine_does_not_get_up_to_the_feed() {
    with_cutting("hobby", 3, |what| {
        // To and fro over 3 mm: at 300 mm/s² no more than 30 mm/s at the middle, 15 on the average; 1920 mm/min are asked.
        let (mut moves, took) = side_cuts(what.planned.feed, 1.0, &[(3.0, 3.2, false); 40]);
        for (k, m) in moves.iter_mut().enumerate() {
            *m = m.ending([if k % 2 == 0 { 0.0 } else { 3.0 }, 0.0, -1.0]);
        }
        let shuttling = decided(&moves, &took, what);
        assert!(shuttling.speeds.rpm < 16_000.0 && shuttling.why.contains("does not reach"), "{:?}", shuttling.speeds);
        assert!(shuttling.speeds.by_hand.starts_with("dial "));
        let (_, straight) = feeds_of(what, 1.0, &[(300.0, 3.2, false)]);
        assert_eq!((straight.speeds.rpm, straight.why.as_str()), (16_000.0, ""));
    });
}

#[test]
fn what_was_asked_to_be_slow_stays_slow_and_rapids_stay() {
    with_cutting("sturdy", 3, |what| {
        let (mut moves, took) = side_cuts(what.planned.feed, 2.0, &[(40.0, 6.35, false), (40.0, 6.35, false)]);
        moves[1] = moves[1].at_feed(0.6 * what.planned.feed);
        moves.push(Move::Rapid { to: [80.0, 0.0, 20.0] });
        let decided = decided(&moves, &took, what);
        let feeds: Vec<f64> = decided.moves.iter().filter_map(Move::feed).collect();
        about(feeds[0], 0.6 * 4320.0);
        about(feeds[1], 4320.0);
        assert_eq!(decided.moves.first(), moves.first());
        assert_eq!(decided.moves.last(), moves.last());
    });
}
