//! GLB (glTF 2.0): meshes with colours, for viewers.
//!
//! glTF is in metres with Y up; our corners stay in mm with Z up, and one node above all parts turns and scales them
//! (−90° about X, 0.001). Extras of the asset say so.

use crate::PapersError;
use serde_json::{Value, json};

/// One mesh with its look. Corners in mm, Z up.
pub(crate) struct Part<'a> {
    pub(crate) name: &'a str,
    pub(crate) corners: &'a [[f32; 3]],
    /// One per corner, if known; viewers shade flat without.
    pub(crate) normals: Option<&'a [[f32; 3]]>,
    /// One per corner (sRGB), or the part's colour for all.
    pub(crate) colours: Option<&'a [[u8; 3]]>,
    pub(crate) triangles: &'a [[u32; 3]],
    pub(crate) colour: [u8; 3],
    /// 0 polished, 1 dull.
    pub(crate) roughness: f32,
}

const FLOAT: u32 = 5126;
const BYTE: u32 = 5121;
const UINT: u32 = 5125;
const VERTICES: u32 = 34962;
const INDICES: u32 = 34963;

#[derive(Default)]
struct Buffer {
    bytes: Vec<u8>,
    views: Vec<Value>,
    accessors: Vec<Value>,
}

/// Writes the parts as one scene.
pub(crate) fn write(file: &str, frame: &str, parts: &[Part<'_>]) -> Result<Vec<u8>, PapersError> {
    let mut buffer = Buffer::default();
    let mut meshes = Vec::new();
    let mut materials = Vec::new();
    let mut nodes = vec![json!({
        "name": "mm, Z up, turned and scaled to metres, Y up",
        "rotation": [-std::f64::consts::FRAC_1_SQRT_2, 0.0, 0.0, std::f64::consts::FRAC_1_SQRT_2],
        "scale": [0.001, 0.001, 0.001],
        "children": (1..=parts.len()).collect::<Vec<_>>(),
    })];
    for (k, part) in parts.iter().filter(|p| !p.triangles.is_empty()).enumerate() {
        meshes.push(json!({ "name": part.name, "primitives": [buffer.primitive(part, k)] }));
        materials.push(material(part));
        nodes.push(json!({ "name": part.name, "mesh": k }));
    }
    if meshes.is_empty() {
        return Err(PapersError::unwritable(file, "it would show nothing"));
    }
    nodes[0]["children"] = json!((1..nodes.len()).collect::<Vec<_>>());
    let scene = json!({
        "asset": { "version": "2.0", "generator": "Treen", "extras": { "frame": frame, "unit_of_corners": "mm" } },
        "scene": 0,
        "scenes": [{ "nodes": [0] }],
        "nodes": nodes,
        "meshes": meshes,
        "materials": materials,
        "accessors": buffer.accessors,
        "bufferViews": buffer.views,
        "buffers": [{ "byteLength": buffer.bytes.len() }],
    });
    Ok(container(scene.to_string().into_bytes(), buffer.bytes))
}

fn material(part: &Part<'_>) -> Value {
    let [r, g, b] = if part.colours.is_some() { [1.0; 3] } else { part.colour.map(linear) };
    json!({
        "name": part.name,
        "pbrMetallicRoughness": {
            "baseColorFactor": [r, g, b, 1.0], "metallicFactor": 0.0, "roughnessFactor": part.roughness,
        },
    })
}

/// From an sRGB byte to linear light (IEC 61966-2-1).
pub(crate) fn linear(byte: u8) -> f32 {
    let v = f32::from(byte) / 255.0;
    if v <= 0.040_45 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
}

impl Buffer {
    fn primitive(&mut self, part: &Part<'_>, material: usize) -> Value {
        let least = part.corners.iter().fold([f32::INFINITY; 3], |m, c| [0, 1, 2].map(|k| m[k].min(c[k])));
        let most = part.corners.iter().fold([f32::NEG_INFINITY; 3], |m, c| [0, 1, 2].map(|k| m[k].max(c[k])));
        let position = self.accessor(floats(part.corners), VERTICES, FLOAT, part.corners.len(), "VEC3");
        self.accessors[position]["min"] = json!(least);
        self.accessors[position]["max"] = json!(most);
        let mut attributes = json!({ "POSITION": position });
        if let Some(normals) = part.normals {
            attributes["NORMAL"] = json!(self.accessor(floats(normals), VERTICES, FLOAT, normals.len(), "VEC3"));
        }
        if let Some(colours) = part.colours {
            let bytes = colours.iter().flat_map(|c| {
                let [r, g, b] = c.map(|v| (linear(v) * 255.0).round() as u8);
                [r, g, b, 255]
            });
            let at = self.accessor(bytes.collect(), VERTICES, BYTE, colours.len(), "VEC4");
            self.accessors[at]["normalized"] = json!(true);
            attributes["COLOR_0"] = json!(at);
        }
        let indices = part.triangles.iter().flatten().flat_map(|v| v.to_le_bytes()).collect();
        let indices = self.accessor(indices, INDICES, UINT, part.triangles.len() * 3, "SCALAR");
        json!({ "attributes": attributes, "indices": indices, "material": material, "mode": 4 })
    }

    /// Every element is a multiple of 4 bytes, so each view starts aligned.
    fn accessor(&mut self, bytes: Vec<u8>, target: u32, component: u32, count: usize, kind: &str) -> usize {
        self.views.push(json!({
            "buffer": 0, "byteOffset": self.bytes.len(), "byteLength": bytes.len(), "target": target,
        }));
        self.bytes.extend(bytes);
        self.accessors.push(json!({
            "bufferView": self.views.len() - 1, "componentType": component, "count": count, "type": kind,
        }));
        self.accessors.len() - 1
    }
}

fn floats(values: &[[f32; 3]]) -> Vec<u8> {
    values.iter().flatten().flat_map(|v| v.to_le_bytes()).collect()
}

/// Header, JSON chunk padded with spaces, binary chunk padded with zeros (glTF 2.0 §4.4).
fn container(mut json: Vec<u8>, mut binary: Vec<u8>) -> Vec<u8> {
    json.resize(json.len().next_multiple_of(4), b' ');
    binary.resize(binary.len().next_multiple_of(4), 0);
    let total = 12 + 8 + json.len() + 8 + binary.len();
    let mut out = Vec::with_capacity(total);
    out.extend_from_slice(b"glTF");
    out.extend_from_slice(&2u32.to_le_bytes());
    out.extend_from_slice(&(total as u32).to_le_bytes());
    for (kind, chunk) in [(b"JSON", &json), (b"BIN\0", &binary)] {
        out.extend_from_slice(&(chunk.len() as u32).to_le_bytes());
        out.extend_from_slice(kind);
        out.extend_from_slice(chunk);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{fixture, stl};

    #[test]
    fn a_reader_we_did_not_write_finds_the_block_in_metres_with_y_up() {
        let mesh = stl::welded(&fixture::block([-90.0, -60.0, 0.0], [90.0, 60.0, 40.0]));
        let colours = vec![[200, 30, 90]; mesh.corners.len()];
        let part = Part {
            name: "block",
            corners: &mesh.corners,
            normals: None,
            colours: Some(&colours),
            triangles: &mesh.triangles,
            colour: [0; 3],
            roughness: 0.6,
        };
        let bytes = write("x.glb", "piece", &[part]).unwrap();
        let gltf = gltf::Gltf::from_slice(&bytes).unwrap();
        let blob = gltf.blob.clone().unwrap();
        let root = gltf.default_scene().unwrap().nodes().next().unwrap();
        let turn = glam::Mat4::from_cols_array_2d(&root.transform().matrix());
        let node = root.children().next().unwrap();
        let primitive = node.mesh().unwrap().primitives().next().unwrap();
        let reader = primitive.reader(|_| Some(&blob));
        let points: Vec<glam::Vec3> =
            reader.read_positions().unwrap().map(|p| turn.transform_point3(glam::Vec3::from(p))).collect();
        let most = points.iter().fold(glam::Vec3::NEG_INFINITY, |m, p| m.max(*p));
        let least = points.iter().fold(glam::Vec3::INFINITY, |m, p| m.min(*p));
        assert!(most.distance(glam::Vec3::new(0.09, 0.04, 0.06)) < 1e-6, "{most}");
        assert!(least.distance(glam::Vec3::new(-0.09, 0.0, -0.06)) < 1e-6, "{least}");
        // Y (depth) of the piece points away from the viewer: the corner at y = 60 mm lies at z = -0.06 m.
        let index: Vec<u32> = reader.read_indices().unwrap().into_u32().collect();
        assert_eq!(index.len(), 36);
        let volume: f32 = index
            .chunks_exact(3)
            .map(|t| points[t[0] as usize].dot(points[t[1] as usize].cross(points[t[2] as usize])) / 6.0)
            .sum();
        assert!((volume / (0.18 * 0.12 * 0.04) - 1.0).abs() < 1e-5);
        let colour = reader.read_colors(0).unwrap().into_rgba_f32().next().unwrap();
        assert!((colour[0] - 0.5776).abs() < 0.003, "sRGB 200 is 0.5776 in linear light: {}", colour[0]);
    }
}
