//! Whole jobs as read: every value in its place, with its place in the text, and no panic on any text.

#![allow(clippy::unwrap_used)]

use base::{At, FileId, Length, Units, mm};
use job::*;
use proptest::prelude::*;

const FULL: &str = r##"
title = "Clover"
units = "in"
seed = 0x10
start = 2028-02-29
[piece]
outline = { kind = "lobed", diameter = 8, lobes = 3, depth = 0.1 }
height = "2 1/4"
wall = "1/4"
floor = "7,5 mm"
floor_radius = 0.5
outside = { kind = "ogee", foot_inset = "35 mm" }
inside = { kind = "straight", draft = 5 }
foot = { kind = "pad" }
[[cast]]
name = "ring"
kind = "ring-band"
resin = "deep pour"
colour = "#A0b1C2"
translucent = true
pigment = 0.02
band = "6 mm"
[[cast]]
name = "drips-2"
kind = "rim-drips"
resin = "medium casting"
colour = "#1f7a8c"
band = "6 mm"
count = 9
length = ["8 mm", "20 mm"]
width = ["8 mm", "1/2\""]
[blank]
wood = "cherry"
boards = "52 mm"
board_width = "200 mm"
size = [9, 9.5]
beyond_rim = "7 mm"
beyond_foot = "1.5 mm"
[route]
kind = "two-sided"
scallop = "0.02 mm"
finish = "hard-wax oil"
first_grit = 150
"##;

fn read(text: &str) -> Job {
    let (job, report) = parse(text, FileId(3));
    assert_eq!(report.findings, []);
    job.unwrap()
}

fn written(at: Option<At>) -> &'static str {
    let at = at.unwrap();
    assert_eq!(at.file, FileId(3));
    &FULL[at.start as usize..at.end as usize]
}

#[test]
fn every_value_arrives() {
    let job = read(FULL);
    assert_eq!((job.title.as_str(), job.units, job.seed), ("Clover", Units::In, 16));
    assert_eq!(job.start.unwrap().value, "2028-02-29");
    let piece = &job.piece;
    let diameter = Length::from_inches(8.0);
    assert_eq!(piece.outline.value, OutlineSpec::Lobed { diameter, lobes: 3, depth: 0.1 });
    assert_eq!(piece.height.value, mm(57.15)); // 2 1/4 · 25.4
    assert_eq!(piece.wall.value, mm(6.35));
    assert_eq!(piece.floor.value, mm(7.5));
    assert_eq!(piece.floor_radius.value, mm(12.7));
    assert_eq!(piece.rim_round, Placed { value: mm(0.0), at: None });
    assert_eq!(piece.outside.value, OutsideSpec::Ogee { foot_inset: mm(35.0) });
    assert_eq!(piece.inside.value, InsideSpec::Straight { draft_deg: 5.0 });
    assert_eq!(piece.foot.value, FootSpec::Pad);
    let [ring, drips] = &job.casts[..] else { panic!("{:?}", job.casts) };
    assert_eq!((ring.name.value.as_str(), ring.resin.value.as_str()), ("ring", "deep pour"));
    assert_eq!((ring.colour.value, ring.translucent, ring.pigment.value), ([0xa0, 0xb1, 0xc2], true, 0.02));
    assert!(matches!(ring.form, CastForm::RingBand { band } if band.value == mm(6.0)));
    assert_eq!((drips.translucent, drips.pigment), (false, Placed { value: 0.0, at: None }));
    let CastForm::RimDrips { band, count, length, width } = &drips.form else { panic!("{:?}", drips.form) };
    assert_eq!((band.value, count.value), (mm(6.0), 9));
    assert_eq!((length.value, width.value), ([mm(8.0), mm(20.0)], [mm(8.0), mm(12.7)]));
    let blank = &job.blank;
    assert_eq!((blank.wood.value.as_str(), blank.boards.value), ("cherry", BoardThickness::Measured(mm(52.0))));
    assert_eq!(blank.board_width.unwrap().value, mm(200.0));
    assert_eq!(blank.size.unwrap().value, [Length::from_inches(9.0), Length::from_inches(9.5)]);
    assert_eq!((blank.beyond_rim.unwrap().value, blank.beyond_foot.unwrap().value), (mm(7.0), mm(1.5)));
    let route = &job.route;
    assert_eq!((route.kind.value, route.scallop.value), (RouteKind::TwoSided, mm(0.02)));
    assert_eq!((route.finish.value.as_str(), route.first_grit.unwrap().value), ("hard-wax oil", 150));
}

#[test]
fn places_point_at_what_was_written() {
    let job = read(FULL);
    assert_eq!(written(job.piece.height.at), "\"2 1/4\"");
    assert_eq!(written(job.piece.foot.at), "{ kind = \"pad\" }");
    assert_eq!(written(job.piece.at), "[piece]");
    assert_eq!(written(job.casts[1].at), "[[cast]]");
    assert_eq!(written(job.blank.size.unwrap().at), "[9, 9.5]");
    assert_eq!(written(job.route.kind.at), "\"two-sided\"");
    assert_eq!(written(job.start.unwrap().at), "2028-02-29");
}

#[test]
fn all_other_kinds_are_read() {
    let with = |old: &str, new: &str| {
        let text = starter("Tray");
        assert!(text.contains(old), "{old}");
        read(&text.replace(old, new))
    };
    let circle = "outline = { kind = \"circle\", diameter = \"190 mm\" }";
    let oval = with(circle, "outline = { kind = \"ellipse\", length = 240, width = 170 }");
    assert_eq!(oval.piece.outline.value, OutlineSpec::Ellipse { length: mm(240.0), width: mm(170.0) });
    let tray = with(circle, "outline = { kind = \"rounded-rectangle\", length = 240, width = 170, corner = 85 }");
    let corner = mm(85.0);
    let want = OutlineSpec::RoundedRectangle { length: mm(240.0), width: mm(170.0), corner };
    assert_eq!(tray.piece.outline.value, want);
    let straight = with("{ kind = \"round\", foot_inset = \"35 mm\" }", "{ kind = \"straight\", draft = 12.5 }");
    assert_eq!(straight.piece.outside.value, OutsideSpec::Straight { draft_deg: 12.5 });
    let plain = read(&starter("Plain"));
    assert_eq!(plain.piece.outside.value, OutsideSpec::Round { foot_inset: mm(35.0) });
    assert_eq!(plain.piece.foot.value, FootSpec::Recess { land: mm(8.0), depth: mm(1.2) });
    assert_eq!(plain.blank.boards.value, BoardThickness::Quarters(6));
    assert_eq!((plain.piece.inside.value, plain.start, plain.blank.size), (InsideSpec::Follow, None, None));
}

#[test]
fn every_line_the_starter_leaves_out_may_be_put_in() {
    let text = starter("All in");
    let (mut lines, mut put_in) = (Vec::new(), 0);
    for line in text.lines() {
        let option = line.strip_prefix("# ").filter(|l| l.split_once(" = ").is_some_and(|(key, _)| !key.contains(' ')));
        put_in += usize::from(option.is_some());
        lines.push(option.unwrap_or(line));
    }
    assert_eq!(put_in, 9);
    let job = read(&lines.join("\n"));
    assert!(
        job.start.is_some()
            && job.route.rest.is_some()
            && job.blank.beyond_rim.is_some()
            && job.route.first_grit.is_some()
    );
}

#[test]
fn waists_and_sides_bound_the_wall() {
    // r0 (1 + depth) = 110, so r0 = 100 and the waists are 2 · 100 · (1 − 0.1) = 180 apart.
    let lobed = OutlineSpec::Lobed { diameter: mm(220.0), lobes: 4, depth: 0.1 };
    assert!((lobed.least_size().unwrap().as_mm() - 180.0).abs() < 1e-9);
    assert_eq!(OutlineSpec::Ellipse { length: mm(240.0), width: mm(170.0) }.least_size(), Some(mm(170.0)));
}

#[test]
fn strong_pigment_is_a_warning_only() {
    let (job, report) = parse(&starter("Deep").replace("0.015", "0.04"), FileId(0));
    assert!(job.is_some() && !report.has_errors());
    assert_eq!(report.findings[0].code, "much-pigment");
}

fn sound(text: &str) {
    let (job, report) = parse(text, FileId(0));
    assert!(job.is_some() || report.has_errors(), "neither a job nor an error for {text:?}");
    for finding in &report.findings {
        let at = finding.at.expect("a place");
        assert!(at.start <= at.end && at.end as usize <= text.len(), "{finding:?} in {text:?}");
    }
}

proptest! {
    #[test]
    fn no_text_makes_it_panic(text in "\\PC*") {
        sound(&text);
    }

    #[test]
    fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        sound(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn no_slip_in_a_job_makes_it_panic(
        slips in prop::collection::vec((any::<prop::sample::Index>(), 0..4_usize, "[\\[\\]{}=\"#\\n.,0-9a-z'é-]{0,4}"), 1..6),
    ) {
        let mut text: Vec<char> = FULL.chars().collect();
        for (at, drop, put) in slips {
            let start = at.index(text.len().max(1)).min(text.len());
            let end = (start + drop).min(text.len());
            text.splice(start..end, put.chars());
        }
        sound(&text.into_iter().collect::<String>());
    }

    #[test]
    fn any_value_may_stand_anywhere(
        line in 0..60_usize,
        value in prop::sample::select(vec![
            "1", "-1", "0", "1e400", "nan", "-inf", "99999999999999999999", "true", "\"\"", "\"8/4\"", "[]", "[1]", "[[1], {}]",
            "{}", "{ kind = 1 }", "{ kind = \"circle\" }", "2027-01-01", "07:30:00", "\"1,000 mm\"", "\"\\u0000\"", "'''\na'''",
        ]),
    ) {
        let put = |(n, text): (usize, &str)| match text.split_once(" = ") {
            Some((key, _)) if n == line => format!("{key} = {value}\n"),
            _ => format!("{text}\n"),
        };
        sound(&FULL.lines().enumerate().map(put).collect::<String>());
    }

    #[test]
    fn any_title_makes_a_job(title in "\\PC*|[\"\\\\\\n\\x00-\\x1fé]*") {
        let (job, report) = parse(&starter(&title), FileId(0));
        prop_assert_eq!(report.findings, vec![]);
        prop_assert!(job.is_some());
    }
}
