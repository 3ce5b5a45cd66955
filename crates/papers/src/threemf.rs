//! 3MF (core specification 1.3): a package of three parts with the piece as one object in millimetres.
//!
//! The object is in the piece's frame; the item of the build shifts it into the positive octant, as the specification
//! asks of what is to be made. Time stamps in the package are the earliest it can hold, for equal bytes.

use crate::{PapersError, stl};
use geom::Mesh;
use std::fmt::Write as _;
use std::io::{Cursor, Write as _};
use zip::write::SimpleFileOptions;

const CONTENT_TYPES: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>
"#;
const RELATIONSHIPS: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>
"#;

/// Writes a mesh with a title and a colour for its material.
pub(crate) fn write(mesh: &Mesh, title: &str, material: &str, colour: [u8; 3]) -> Result<Vec<u8>, PapersError> {
    let model = model_part(mesh, title, material, colour);
    package(&[
        ("[Content_Types].xml", CONTENT_TYPES.as_bytes()),
        ("_rels/.rels", RELATIONSHIPS.as_bytes()),
        ("3D/3dmodel.model", model.as_bytes()),
    ])
    .map_err(|e| PapersError::unwritable("models/piece.3mf", e))
}

fn package(parts: &[(&str, &[u8])]) -> Result<Vec<u8>, zip::result::ZipError> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().last_modified_time(zip::DateTime::default());
    for (name, bytes) in parts {
        zip.start_file(*name, options)?;
        zip.write_all(bytes)?;
    }
    Ok(zip.finish()?.into_inner())
}

fn model_part(mesh: &Mesh, title: &str, material: &str, colour: [u8; 3]) -> String {
    let welded = stl::welded(mesh);
    let least = welded.corners.iter().fold([f32::INFINITY; 3], |m, c| [0, 1, 2].map(|k| m[k].min(c[k])));
    let shift = least.map(|v| if v.is_finite() { -v } else { 0.0 });
    let [r, g, b] = colour;
    let mut out = String::with_capacity(welded.corners.len() * 48 + welded.triangles.len() * 40 + 1024);
    let _ = write!(
        out,
        r##"<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">
<metadata name="Title">{title}</metadata>
<metadata name="Application">Treen</metadata>
<resources>
<basematerials id="1"><base name="{material}" displaycolor="#{r:02X}{g:02X}{b:02X}"/></basematerials>
<object id="2" name="{title}" type="model" pid="1" pindex="0"><mesh><vertices>
"##,
        title = xml(title),
        material = xml(material),
    );
    for [x, y, z] in &welded.corners {
        let _ = writeln!(out, r#"<vertex x="{x}" y="{y}" z="{z}"/>"#);
    }
    out.push_str("</vertices><triangles>\n");
    for [a, b, c] in &welded.triangles {
        let _ = writeln!(out, r#"<triangle v1="{a}" v2="{b}" v3="{c}"/>"#);
    }
    let [x, y, z] = shift;
    let _ = write!(
        out,
        "</triangles></mesh></object>\n</resources>\n<build><item objectid=\"2\" transform=\"1 0 0 0 1 0 0 0 1 {x} {y} {z}\"/></build>\n</model>\n"
    );
    out
}

/// Text inside XML or HTML, also between double quotes. Control characters have no place in either.
pub(crate) fn xml(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() && c != '\n' && c != '\t' => {}
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use lib3mf_core::archive::{ArchiveReader, ZipArchiver, find_model_path};

    #[test]
    fn a_reader_we_did_not_write_finds_the_solid() {
        // A tetrahedron with legs of 60 mm: volume 60³ / 6 = 36 000 mm³ (closed form).
        let corner = |x: f64, y: f64, z: f64| geom::DVec3::new(x - 20.0, y - 20.0, z);
        let mesh = Mesh {
            vertices: vec![corner(0., 0., 0.), corner(60., 0., 0.), corner(0., 60., 0.), corner(0., 0., 60.)],
            triangles: vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]],
        };
        let bytes = write(&mesh, "Tray <no. 1> & \"co\"", "walnut", [90, 60, 40]).unwrap();
        let mut archive = ZipArchiver::new(Cursor::new(bytes)).unwrap();
        let path = find_model_path(&mut archive).unwrap();
        let part = archive.read_entry(&path).unwrap();
        let model = lib3mf_core::parser::parse_model(Cursor::new(part)).unwrap();
        assert_eq!(model.build.items.len(), 1);
        let object = model.resources.get_object(model.build.items[0].object_id).unwrap();
        let lib3mf_core::model::Geometry::Mesh(read) = &object.geometry else { panic!("no mesh") };
        let (_, volume) = read.compute_area_and_volume();
        assert!((volume - 36_000.0).abs() < 0.1, "{volume}");
        // Shifted into the positive octant: the least corner of the mesh lies at (-20, -20, 0).
        let shift = model.build.items[0].transform.w_axis;
        assert_eq!([shift.x, shift.y, shift.z], [20.0, 20.0, 0.0]);
        assert_eq!(read.vertices.len(), 4);
    }
}
