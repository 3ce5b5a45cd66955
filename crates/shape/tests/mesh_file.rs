//! Files of solids: against closed forms, against readers that we did not write (`stl_io`, `tobj`, `lib3mf-core`), and against
//! files that mean harm or are broken.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use geom::{DVec3, Mesh};
use shape::mesh_file::{self, MeshFile};
use std::io::{Cursor, Write as _};
use std::time::{Duration, Instant};

/// A ring of square section, not convex, with slanted sides: volume by [`Mesh::volume`], which other tests hold to closed forms.
fn solid() -> Mesh {
    let outer = Mesh::cuboid(DVec3::new(-30.0, -20.0, 0.0), DVec3::new(30.0, 20.0, 12.5));
    let hole = Mesh::cuboid(DVec3::new(-11.0, -7.25, -1.0), DVec3::new(13.0, 9.0, 20.0));
    outer.minus(&hole).unwrap()
}

const SOLID_VOLUME: f64 = (60.0 * 40.0 - 24.0 * 16.25) * 12.5;

fn binary_stl(mesh: &Mesh) -> Vec<u8> {
    let mut out = vec![b' '; 80];
    out.extend((mesh.triangles.len() as u32).to_le_bytes());
    for i in 0..mesh.triangles.len() {
        out.extend([0; 12]);
        for v in mesh.corners(i).iter().flat_map(|c| c.to_array()) {
            out.extend((v as f32).to_le_bytes());
        }
        out.extend([0; 2]);
    }
    out
}

fn text_stl(mesh: &Mesh) -> Vec<u8> {
    let mut out = String::from("solid a ring with spaces\r\n");
    for i in 0..mesh.triangles.len() {
        let n = mesh.normal2(i).normalize();
        out += &format!("  facet normal {} {} {}\n    outer loop\n", n.x, n.y, n.z);
        for c in mesh.corners(i) {
            out += &format!("      vertex {:e} {} {}\n", c.x, c.y, c.z);
        }
        out += "    endloop\n  endfacet\n";
    }
    (out + "endsolid a ring with spaces\n").into_bytes()
}

fn obj(mesh: &Mesh) -> Vec<u8> {
    let mut out = String::from("# a ring\nmtllib x.mtl\no ring\n");
    mesh.vertices.iter().for_each(|v| out += &format!("v {} {} {}\n", v.x, v.y, v.z));
    out += "vn 0 0 1\nusemtl wood\ns off\n";
    for (i, t) in mesh.triangles.iter().enumerate() {
        let [a, b, c] = t.map(|v| v + 1);
        out += &match i % 3 {
            0 => format!("f {a} {b} {c}\n"),
            1 => format!("f {a}//1 {b}//1 {c}//1 # with a normal\n"),
            _ => format!("f {} \\\n {b} {c}\n", i64::from(a) - 1 - mesh.vertices.len() as i64),
        };
    }
    out.into_bytes()
}

const RELS: &str = r#"<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="r" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>"#;
const TYPES: &str = r#"<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>"#;
const HEAD: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<model xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02" xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06" "#;

fn package(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in
        [("[Content_Types].xml", TYPES.as_bytes()), ("_rels/.rels", RELS.as_bytes())].iter().chain(parts)
    {
        zip.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn model(text: &str) -> Vec<u8> {
    package(&[("3D/3dmodel.model", text.as_bytes())])
}

fn object(id: u32, mesh: &Mesh) -> String {
    let mut out = format!(r#"<object id="{id}" type="model"><mesh><vertices>"#);
    mesh.vertices.iter().for_each(|v| out += &format!(r#"<vertex x="{}" y="{}" z="{}"/>"#, v.x, v.y, v.z));
    out += "</vertices><triangles>";
    mesh.triangles.iter().for_each(|t| out += &format!(r#"<triangle v1="{}" v2="{}" v3="{}" />"#, t[0], t[1], t[2]));
    out + "</triangles></mesh></object>"
}

fn threemf(mesh: &Mesh) -> Vec<u8> {
    let object = object(7, mesh);
    model(&format!(
        r#"{HEAD} unit="millimeter"><resources>{object}</resources><build><item objectid="7"/></build></model>"#
    ))
}

fn read(name: &str, bytes: &[u8]) -> MeshFile {
    mesh_file::read(name, bytes).unwrap_or_else(|e| panic!("{name}: {e:?}"))
}

fn refusal(name: &str, bytes: &[u8]) -> String {
    let begun = Instant::now();
    let refused = mesh_file::read(name, bytes).unwrap_err();
    // Not a timing to compare, only “quickly”.
    assert!(begun.elapsed() < Duration::from_secs(30), "{refused:?}");
    assert!(!refused.hint.is_empty());
    refused.text
}

#[test]
fn every_kind_of_file_gives_the_same_solid() {
    let mesh = solid();
    let files =
        [("a.stl", binary_stl(&mesh)), ("b.stl", text_stl(&mesh)), ("c.obj", obj(&mesh)), ("d.3mf", threemf(&mesh))];
    for (name, bytes) in files {
        let found = read(name, &bytes);
        assert_eq!(found.mesh.triangles.len(), mesh.triangles.len(), "{name}");
        assert!(found.mesh.is_closed(), "{name}");
        assert!((found.mesh.volume() - SOLID_VOLUME).abs() < 1e-6 * SOLID_VOLUME, "{name}: {}", found.mesh.volume());
        assert_eq!(found.unit_mm, name.ends_with("3mf").then_some(1.0));
    }
}

#[test]
fn stl_is_read_as_another_reader_reads_it() {
    let mesh = solid();
    for bytes in [binary_stl(&mesh), text_stl(&mesh)] {
        let theirs = stl_io::read_stl(&mut Cursor::new(&bytes)).unwrap();
        let ours = read("x.stl", &bytes).mesh;
        assert_eq!(theirs.faces.len(), ours.triangles.len());
        for (face, i) in theirs.faces.iter().zip(0..) {
            for (at, corner) in face.vertices.iter().zip(ours.corners(i)) {
                let v = theirs.vertices[*at].0;
                assert!(DVec3::new(v[0].into(), v[1].into(), v[2].into()).abs_diff_eq(corner, 1e-5));
            }
        }
    }
}

#[test]
fn obj_is_read_as_another_reader_reads_it() {
    // The other one knows neither lines that go on nor comments behind values.
    let bytes = String::from_utf8(obj(&solid())).unwrap().replace("\\\n", "").replace(" # with a normal", "");
    let options = tobj::LoadOptions { triangulate: true, ..tobj::LoadOptions::default() };
    let (models, _) =
        tobj::load_obj_buf(&mut Cursor::new(&bytes), &options, |_| Err(tobj::LoadError::OpenFileFailed)).unwrap();
    let ours = read("x.obj", bytes.as_bytes()).mesh;
    let theirs: Vec<u32> = models.iter().flat_map(|m| m.mesh.indices.iter().copied()).collect();
    assert_eq!(theirs.len(), ours.triangles.len() * 3);
    for (i, t) in theirs.chunks(3).enumerate() {
        for (v, corner) in t.iter().zip(ours.corners(i)) {
            let at = &models[0].mesh.positions[*v as usize * 3..][..3];
            assert!(DVec3::new(at[0].into(), at[1].into(), at[2].into()).abs_diff_eq(corner, 1e-5));
        }
    }
}

#[test]
fn faces_that_are_not_convex_are_cut_within_themselves() {
    // An L-shaped prism: two faces of six corners, area 3·4 − 2·2 = 8, height 5, standing askew.
    let plan = [(0, 0), (3, 0), (3, 2), (1, 2), (1, 4), (0, 4)];
    for start in 0..6 {
        let mut text = String::new();
        for z in [0, 5] {
            plan.iter().for_each(|(x, y)| text += &format!("v {} {} {}\n", x + z, y, z - x));
        }
        let at = |k: usize| (k + start) % 6 + 1;
        let ring = |first: usize| (0..6).map(|k| (at(k) + first).to_string()).collect::<Vec<_>>();
        let bottom: Vec<String> = ring(0).into_iter().rev().collect();
        text += &format!("f {}\nf {}\n", ring(6).join(" "), bottom.join(" "));
        (0..6).for_each(|k| text += &format!("f {0} {1} {2} {3}\n", at(k), at(k + 1), at(k + 1) + 6, at(k) + 6));
        let mesh = read("l.obj", text.as_bytes()).mesh;
        assert!(mesh.is_closed());
        // The shear (x + z, y, z − x) has the determinant 2.
        assert!((mesh.volume() - 2.0 * 40.0).abs() < 1e-9, "{start}: {}", mesh.volume());
        let area: f64 = (0..4).map(|i| mesh.normal2(i).length() / 2.0).sum();
        let top = DVec3::new(1.0, 0.0, -1.0).cross(DVec3::Y).length() * 8.0;
        assert!((area - top).abs() < 1e-9, "{start}: {area}");
    }
}

/// A package as other writers make them: parts of their own for objects, inches, components with a turn, a mirror and a shift, a
/// support that is no part of the solid.
fn composed() -> Vec<u8> {
    let other = format!(r#"{HEAD} unit="inch"><resources>{}</resources><build/></model>"#, object(3, &solid()));
    let support = object(9, &solid()).replace(r#"type="model""#, r#"type="support""#);
    let root = format!(
        r#"{HEAD} unit="inch" requiredextensions="p"><metadata name="x">a &amp; b</metadata><resources>{support}
<object id="5"><components><component p:path="/3D/Objects/Ring.model" objectid="3" transform="0 1 0 -1 0 0 0 0 1 100 0 0"/>
<component objectid="3" p:path="/3D/Objects/Ring.model" transform="-2 0 0 0 1 0 0 0 1 0 0 50"/></components></object></resources>
<build><item objectid="5" transform="1 0 0 0 1 0 0 0 1 7 8 9"/><item objectid="9"/></build></model>"#
    );
    package(&[("3D/3dmodel.model", root.as_bytes()), ("3D/Objects/Ring.model", other.as_bytes())])
}

#[test]
fn packages_of_several_parts_are_put_together() {
    let mesh = read("x.3mf", &composed()).mesh;
    assert!(mesh.is_closed());
    let volume = SOLID_VOLUME * 3.0 * 25.4_f64.powi(3);
    assert!((mesh.volume() / volume - 1.0).abs() < 1e-9, "{}", mesh.volume());
    // By hand: the turned ring spans x 80…120 and y −30…30 before the item's shift, the stretched one −60…60 and −20…20, z to 62.5.
    let (min, max) = mesh.bounds().unwrap();
    assert!(min.abs_diff_eq(DVec3::new(-53.0, -22.0, 9.0) * 25.4, 1e-9), "{min}");
    assert!(max.abs_diff_eq(DVec3::new(127.0, 38.0, 71.5) * 25.4, 1e-9), "{max}");
}

#[test]
fn packages_are_read_as_another_reader_reads_them() {
    use lib3mf_core::archive::{ArchiveReader as _, ZipArchiver, find_model_path};
    let bytes = threemf(&solid());
    let mut archive = ZipArchiver::new(Cursor::new(&bytes)).unwrap();
    let path = find_model_path(&mut archive).unwrap();
    let part = archive.read_entry(&path).unwrap();
    let model = lib3mf_core::parser::parse_model(Cursor::new(part)).unwrap();
    let object = model.resources.get_object(model.build.items[0].object_id).unwrap();
    let lib3mf_core::model::Geometry::Mesh(theirs) = &object.geometry else { panic!("no mesh") };
    let ours = read("x.3mf", &bytes).mesh;
    assert_eq!(theirs.triangles.len(), ours.triangles.len());
    for (t, i) in theirs.triangles.iter().zip(0..) {
        for (v, corner) in [t.v1, t.v2, t.v3].iter().zip(ours.corners(i)) {
            let v = &theirs.vertices[*v as usize];
            assert!(DVec3::new(v.x.into(), v.y.into(), v.z.into()).abs_diff_eq(corner, 1e-5));
        }
    }
}

#[test]
fn what_a_file_claims_is_not_believed() {
    let mesh = solid();
    let mut stl = binary_stl(&mesh);
    stl[80..84].copy_from_slice(&1_000_000_000_u32.to_le_bytes());
    assert!(refusal("x.stl", &stl).contains("1000000000 triangles"));
    let cut = binary_stl(&mesh);
    assert!(refusal("x.stl", &cut[..cut.len() - 1]).contains("triangles"));
    assert!(refusal("x.stl", &[0; 10]).contains("too few"));
    let mut nan = binary_stl(&mesh);
    nan[84 + 12..84 + 16].copy_from_slice(&f32::NAN.to_le_bytes());
    assert!(refusal("x.stl", &nan).contains("triangle 1"));
    let text = String::from_utf8(text_stl(&mesh)).unwrap();
    assert!(refusal("x.stl", &text.as_bytes()[..text.len() / 2]).contains("line"));
    assert!(refusal("x.stl", text.replacen("endloop", "", 1).as_bytes()).contains("line 8"));
    assert!(refusal("x.stl", b"solid x\nfacet normal 0 0 1 outer loop vertex 1 2 nan").contains("line 2"));
    for (text, words) in [
        ("v 1 2\n", "line 1"),
        ("v 1 2 3\nv 1 2 inf\n", "line 2"),
        ("v 0 0 0\nf 1 2 3\n", "names none of the 1"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 -9223372036854775808\n", "names none"),
        ("v 0 0 0\nf 1 1\n", "2 corners"),
        ("v 0 0 0\nf 999999999999999999999 1 1\n", "names none"),
        ("curv 0 1 1 2 3\n", "curved surface"),
        ("PK\u{3}\u{4}", "no word"),
        ("v 0 0 0\n", "no triangles"),
    ] {
        assert!(refusal("x.obj", text.as_bytes()).contains(words), "{text:?}: {}", refusal("x.obj", text.as_bytes()));
    }
    // A million faces of few bytes share three corners: read and dropped, in bounded memory.
    let many = format!("v 0 0 0\n{}", "f 1 1 1\n".repeat(1_000_000));
    assert!(refusal("x.obj", many.as_bytes()).contains("no triangles"));
}

#[test]
fn packages_that_mean_harm_are_refused() {
    let body = |inner: &str| format!("{HEAD}>{inner}</model>");
    let item = r#"<build><item objectid="1"/></build>"#;
    let corner = r#"<vertex x="0" y="0" z="0"/>"#;
    let with =
        |mesh: &str| body(&format!(r#"<resources><object id="1"><mesh>{mesh}</mesh></object></resources>{item}"#));
    let laughs = format!(
        r#"<?xml version="1.0"?><!DOCTYPE m [<!ENTITY a "ha">{}]>{}"#,
        (1..20).map(|k| format!(r#"<!ENTITY a{k} "&a{0};&a{0};">"#, k - 1)).collect::<String>(),
        with(r#"<vertices><vertex x="&a9;" y="0" z="0"/></vertices>"#)
    );
    let bomb: String = (2..40)
        .map(|k| {
            format!(
                r#"<object id="{k}"><components>{}</components></object>"#,
                format!(r#"<component objectid="{}"/>"#, k - 1).repeat(9)
            )
        })
        .collect();
    let cases: Vec<(Vec<u8>, &str)> = vec![
        (b"PK\x03\x04".to_vec(), "no whole 3MF package"),
        (package(&[]), "missing"),
        (model(&laughs), "DOCTYPE"),
        (model(&with(r#"<vertices><vertex x="&big;" y="0" z="0"/></vertices>"#)), "no coordinate"),
        (model(&with(r#"<vertices><vertex x="nan" y="0" z="0"/></vertices>"#)), "no coordinate"),
        (
            model(&with(&format!(
                r#"<vertices>{corner}</vertices><triangles><triangle v1="0" v2="1000000000" v3="0"/></triangles>"#
            ))),
            "1000000000",
        ),
        (model(&with("")), "no triangles"),
        (model(&body(r#"<build><item objectid="4"/></build>"#)), "object 4 is missing"),
        (
            model(&body(
                r#"<resources><object id="1"><components><component objectid="1"/></components></object></resources><build><item objectid="1"/></build>"#,
            )),
            "made of other objects",
        ),
        (
            model(&body(&format!(
                r#"<resources><object id="1"><mesh/></object>{bomb}</resources><build><item objectid="39"/></build>"#
            ))),
            "made of other objects",
        ),
        (
            model(&body(
                r#"<resources><object id="1"/></resources><build><item objectid="1" transform="0 0 0 0 0 0 0 0 0 0 0 0"/></build>"#,
            )),
            "transform",
        ),
        (
            model(&format!(
                r#"{HEAD} xmlns:b="http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02" requiredextensions="p b"></model>"#
            )),
            "“b”",
        ),
        (model(&format!(r#"{HEAD} unit="furlong"></model>"#)), "furlong"),
        (model("<model/>"), "holds no model"),
        (model(&format!("{HEAD}><resources>")), "ends in the middle"),
        (model(&format!("{HEAD}></resources>")), "at byte"),
        // Bombs: a text and a tag that do not end, and tags without end (2 GB from 2 MB).
        (model(&format!("{HEAD}>{}", " ".repeat(64 << 20))), "does not end"),
        (model(&format!("{HEAD} {}", "a".repeat(64 << 20))), "does not end"),
    ];
    for (bytes, words) in cases {
        let text = refusal("x.3mf", &bytes);
        assert!(text.contains(words), "{words}: {text}");
    }
    // A package cut short, and one whose bytes were changed after it was written.
    let whole = threemf(&solid());
    for at in (0..whole.len()).step_by(7) {
        assert!(mesh_file::read("x.3mf", &whole[..at]).is_err(), "{at}");
    }
}

#[test]
fn a_package_that_unfolds_without_end_is_stopped() {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file("_rels/.rels", zip::write::SimpleFileOptions::default()).unwrap();
    zip.write_all(RELS.as_bytes()).unwrap();
    zip.start_file("3D/3dmodel.model", zip::write::SimpleFileOptions::default()).unwrap();
    zip.write_all(HEAD.as_bytes()).unwrap();
    zip.write_all(b">").unwrap();
    let line = "<a/>                                                            ".repeat(1 << 14);
    (0..1100).for_each(|_| zip.write_all(line.as_bytes()).unwrap());
    let bytes = zip.finish().unwrap().into_inner();
    assert!(refusal("x.3mf", &bytes).contains("unfolds to more than 1024 MB"));
}

/// Whole numbers by chance (Steele, Lea, Flood 2014: SplitMix; constants from memory).
struct Dice(u64);

impl Dice {
    fn next(&mut self, below: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % below.max(1) as u64) as usize
    }
}

#[derive(Debug, Default)]
struct Counts {
    files: u64,
    read: u64,
    refused: u64,
}

/// Breaks a file: bytes changed, left out, doubled, words of the language or numbers put in, cut short, or all by chance.
fn broken(whole: &[u8], dice: &mut Dice) -> Vec<u8> {
    const WORDS: [&str; 24] = [
        "nan",
        "-inf",
        "1e308",
        "4294967295",
        "-1",
        "1000000000",
        "solid",
        "endsolid",
        "facet",
        "vertex 1 2 3\n",
        "f 1 2 3 4 5\n",
        "v 0 0 0\n",
        "<",
        ">",
        "/>",
        "</object>",
        "<component objectid=\"7\"/>",
        "<item objectid=\"7\"/>",
        "&a;",
        "<!DOCTYPE a>",
        "\0",
        "\\\n",
        "\"",
        "unit=\"foot\" ",
    ];
    let mut bytes = whole.to_vec();
    for _ in 0..=dice.next(5) {
        let at = dice.next(bytes.len());
        match dice.next(8) {
            0 if !bytes.is_empty() => bytes[at] ^= 1 << dice.next(8),
            1 if !bytes.is_empty() => bytes[at] = dice.next(256) as u8,
            2 => bytes.truncate(at),
            3 => drop(bytes.drain(at..(at + dice.next(80)).min(bytes.len()))),
            4 => {
                let part = bytes[at..(at + dice.next(200)).min(bytes.len())].to_vec();
                bytes.splice(at..at, part);
            }
            5 if dice.next(20) == 0 => bytes = (0..dice.next(400)).map(|_| dice.next(256) as u8).collect(),
            6 if bytes.len() > 84 => bytes[80 + dice.next(4)] = dice.next(256) as u8,
            _ => drop(bytes.splice(at..at, WORDS[dice.next(WORDS.len())].bytes())),
        }
    }
    bytes
}

/// Reads broken files of every kind; what is read must hold good numbers.
fn rounds(seed: u64, go_on: impl Fn(&Counts) -> bool) -> [Counts; 5] {
    let mesh = Mesh::cuboid(DVec3::ZERO, DVec3::new(3.0, 4.0, 5.5));
    let text = |m: &Mesh| {
        format!(
            r#"{HEAD} unit="inch"><resources>{}<object id="8"><components><component objectid="7" transform="1 0 0 0 1 0 0 0 1 9 0 0"/></components></object></resources><build><item objectid="7"/><item objectid="8"/></build></model>"#,
            object(7, m)
        )
    };
    let wholes = [binary_stl(&mesh), text_stl(&mesh), obj(&mesh), threemf(&mesh), text(&mesh).into_bytes()];
    let mut counts: [Counts; 5] = Default::default();
    let mut dice = Dice(seed);
    while go_on(&counts[0]) {
        for (kind, whole) in wholes.iter().enumerate() {
            // The last kind is broken before it is packed, so that the zip is whole.
            let mut bytes = broken(whole, &mut dice);
            if kind == 4 {
                bytes = package(&[("3D/3dmodel.model", &bytes)]);
            }
            let name = ["a.stl", "b.stl", "c.obj", "d.3mf", "e.3mf"][kind];
            counts[kind].files += 1;
            match mesh_file::read(name, &bytes) {
                Ok(found) => {
                    counts[kind].read += 1;
                    assert!(found.mesh.vertices.iter().all(|v| v.is_finite()));
                    let known = found.mesh.vertices.len() as u32;
                    assert!(found.mesh.triangles.iter().flatten().all(|&v| v < known));
                }
                Err(refused) => {
                    counts[kind].refused += 1;
                    assert!(refused.text.len() < 600 && !refused.hint.is_empty(), "{refused:?}");
                }
            }
        }
    }
    counts
}

#[test]
fn broken_files_are_refused_or_read() {
    for (kind, counts) in rounds(1, |counts| counts.files < 2000).iter().enumerate() {
        // A word too many breaks a text, and a changed byte in a zip its checksum, but for names and dates nobody reads.
        assert!(counts.refused > 500 && counts.read > if kind == 3 { 5 } else { 20 }, "{kind}: {counts:?}");
    }
}

/// `READING_SECONDS=600 cargo test --release -p shape --test mesh_file -- --ignored --nocapture`; another `READING_SEED` reads others.
#[test]
#[ignore = "takes as long as it is told to"]
fn broken_files_for_as_long_as_wanted() {
    let told = |name: &str, usual: u64| std::env::var(name).map_or(usual, |value| value.parse().unwrap());
    let (seconds, begun) = (told("READING_SECONDS", 60), Instant::now());
    let counts = rounds(told("READING_SEED", 2), |_| begun.elapsed().as_secs() < seconds);
    println!("{counts:#?}");
    assert!(counts.iter().all(|c| c.read > 0 && c.refused > 0), "{counts:?}");
}
