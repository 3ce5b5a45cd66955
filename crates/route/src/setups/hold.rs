//! What holds the blank by a whole face, and the foot on its carrier: as the maker chose, else tape and instant glue.

use super::{PlanFault, Shop, solid};
use crate::Request;
use crate::allowances::Allowances;
use crate::frame::Frame;
use base::Report;
use geom::{DVec2, DVec3, Mesh, Ring};
use job::{Freeing, Hold, RouteKind};
use trade::figures::holding::{
    Footing, Pressed, area_and_modulus, screw_allowed_n, screw_sideways_n, tape_share_at, vacuum_kpa,
};
use workpiece::{Holding, PressedOn};

/// The face that the blank lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lies {
    /// On its foot face.
    Foot,
    /// On its rim face.
    Rim,
}

/// Of a face that is glued straight on, so much is really wetted (common practice, no source).
const WETTED: f64 = 0.3;
/// Screws stand so far inside the edges of the blank, more than four diameters (Wood Handbook, from memory), mm.
const SCREW_IN: f64 = 20.0;
/// Kept free around a screw, mm (common practice, no source).
const SCREW_CLEAR: f64 = 2.0;
/// The gasket lies so far inside the edges, mm; wide as that it seals (common practice, no source).
const GASKET_IN: f64 = 10.0;
/// Jaws are so thick in the models, and reach so far into the table, mm.
const JAW: f64 = 25.0;
const INTO_TABLE: f64 = 5.0;
/// Water in the wood of a shop: density over specific gravity, kg/m³ (8 %).
const DENSITY_OF_ONE: f64 = 1080.0;
/// Jaws and screws stay so far below what is cut above them, mm (common practice, no source).
const BELOW_CUTS: f64 = 3.0;

/// What was chosen for a side.
pub(crate) fn chosen(shop: &Shop<'_>, lies: Lies) -> Hold {
    match lies {
        Lies::Foot => shop.hold_blank,
        Lies::Rim => shop.hold_outside,
    }
}

/// Thickness of what lies between the blank and what it lies on, mm.
pub(crate) fn under(shop: &Shop<'_>, lies: Lies) -> f64 {
    match chosen(shop, lies) {
        Hold::Tape => shop.goods.tape_stack,
        Hold::Glue => shop.goods.glue_film,
        Hold::Screws | Hold::Vacuum | Hold::Vise => 0.0,
    }
}

/// The blank held by a whole face, `joint_z` in the program's frame.
pub(crate) fn held(shop: &Shop<'_>, lies: Lies, joint_z: f64) -> Holding {
    let size = shop.sizes.half * 2.0;
    let (clamps, fine) = (&shop.shelf.clamping, |v: f64| shop.piece.units.fine(v));
    let face = match lies {
        Lies::Foot => "the whole foot face",
        Lies::Rim => "the whole rim face A",
    };
    let whole = Footing::rectangle(size.x, size.y);
    let clean = match lies {
        Lies::Foot => String::new(),
        Lies::Rim => {
            format!(" Wipe A with spirit first, no wax, no dust, no old glue: a crumb of {} tilts the bowl.", fine(0.2))
        }
    };
    match chosen(shop, lies) {
        Hold::Tape => {
            let warm = tape_share_at(shop.shelf.hours.day_c);
            let mut says = format!(
                "Tape and instant glue over {face}, strips side by side, never lapped, a stack of {}.{clean} Press 60 s under weight.",
                fine(shop.goods.tape_stack)
            );
            if warm < 1.0 {
                says += &format!(
                    " At {:.0} °C the tape bears {:.0} % of what it bears in a cool shop.",
                    shop.shelf.hours.day_c,
                    100.0 * warm
                );
            }
            Holding {
                method: "tape".into(),
                glue: Some(INSTANT.into()),
                shear_mpa: shop.goods.tape_shear_mpa * warm,
                tension_mpa: shop.goods.tape_tension_mpa * warm,
                factor: shop.goods.tape_factor,
                measured: shop.goods.tape_measured.clone(),
                ..joint(says, joint_z, whole.covered(shop.goods.tape_cover))
            }
        }
        Hold::Glue => {
            let (shear_mpa, tension_mpa) = bond(shop, INSTANT);
            let says = format!(
                "Instant glue straight on a scrap board, kraft paper between, drops all over {face}.{clean} Press 60 s under weight; a wedge splits the paper afterwards."
            );
            Holding {
                method: "glue".into(),
                glue: Some(INSTANT.into()),
                shear_mpa,
                tension_mpa,
                factor: shop.goods.glue_factor,
                ..joint(says, joint_z, whole.covered(WETTED))
            }
        }
        Hold::Screws => {
            let (d, at) = (clamps.screw_diameter, shop.sizes.half - DVec2::splat(SCREW_IN));
            let one = std::f64::consts::PI * d * d / 4.0;
            let group = Footing {
                area_mm2: 4.0 * one,
                i_x_mm4: 4.0 * one * at.x * at.x,
                i_y_mm4: 4.0 * one * at.y * at.y,
                reach_x: at.x,
                reach_y: at.y,
                round: false,
            };
            let gravity = shop.wood.density_kg_m3 / DENSITY_OF_ONE;
            let says = format!(
                "Four screws of {} from beneath through the board into the waste at the corners, {} inside both edges, {} of thread in the blank and not more; holes drilled first, heads sunk.",
                fine(d),
                shop.piece.units.shop(SCREW_IN),
                shop.piece.units.shop(clamps.screw_thread)
            );
            Holding {
                method: "screws".into(),
                shear_mpa: screw_sideways_n(d) / one,
                tension_mpa: screw_allowed_n(gravity, d, clamps.screw_thread) / one,
                factor: clamps.screw_factor,
                ..joint(says, joint_z, group)
            }
        }
        Hold::Vacuum => {
            let sealed = size - DVec2::splat(2.0 * GASKET_IN);
            let kpa = vacuum_kpa(clamps.vacuum_kpa, clamps.altitude_m);
            let area = (sealed.x * sealed.y).max(0.0);
            let (slide, tip) = if clamps.vacuum_gauge { (2.0, 2.5) } else { (3.0, 4.0) };
            let says = format!(
                "Vacuum of {kpa:.0} kPa under {face}, gasket {} inside its edges; brush a seal over open pores first, they leak.{clean} Let the gauge stand for a minute; stop the machine when it falls below 50 kPa.",
                shop.piece.units.shop(GASKET_IN)
            );
            pressed(
                "vacuum",
                says,
                joint_z,
                (area, Pressed::by_vacuum(kpa, area, clamps.vacuum_friction, sealed.min_element() / 2.0)),
                (slide, tip),
            )
        }
        Hold::Vise => {
            let jaw = clamps.vise_jaw.min(size.x);
            let arm = (size.y / 2.0).min(jaw / 4.0);
            let says = format!(
                "In a vise by its long edges, flat down on the bed, jaws {} high and no higher, {:.0} kN; tap it down, and check with a straightedge that it is not bowed.",
                shop.piece.units.shop(clamps.vise_grip),
                clamps.vise_n / 1000.0
            );
            pressed(
                "vise",
                says,
                joint_z,
                (2.0 * jaw * clamps.vise_grip, Pressed::by_jaws(clamps.vise_n, clamps.vise_friction, arm)),
                (clamps.vise_factor, clamps.vise_factor),
            )
        }
    }
}

/// The glue of tape, and of the foot where none is chosen.
pub(crate) const INSTANT: &str = "instant glue";

/// A joint of this footing, its strengths still open.
fn joint(says: String, joint_z: f64, footing: Footing) -> Holding {
    Holding {
        method: String::new(),
        glue: None,
        says,
        joint_z,
        area_mm2: footing.area_mm2,
        section_modulus_mm3: 1.0 / footing.bending_mpa(1.0),
        shear_mpa: 0.0,
        tension_mpa: 0.0,
        factor: 0.0,
        pressed: None,
        measured: None,
    }
}

fn pressed(
    method: &str,
    says: String,
    joint_z: f64,
    (area_mm2, on): (f64, Pressed),
    (factor, tip_factor): (f64, f64),
) -> Holding {
    Holding {
        method: method.into(),
        glue: None,
        says,
        joint_z,
        area_mm2,
        section_modulus_mm3: 0.0,
        shear_mpa: 0.0,
        tension_mpa: 0.0,
        factor,
        pressed: Some(PressedOn { hold_n: on.hold_n, friction: on.friction, arm_mm: on.arm_mm, tip_factor }),
        measured: None,
    }
}

/// Strengths of a glue on the board under it: what gives way first.
pub(crate) fn bond(shop: &Shop<'_>, glue: &str) -> (f64, f64) {
    let bond = shop.goods.carrier_bond_mpa;
    shop.shelf.glue(glue).map_or((0.0, 0.0), |g| (g.shear_mpa.min(bond), g.tension_mpa.min(bond)))
}

/// What the foot is glued by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Foot {
    /// Its whole pad.
    Pad,
    /// The ring round its recess.
    Ring,
    /// The ring, and a disc of board that fills the recess.
    Boss,
}

/// A side force that a foot must bear at the rim of its piece, its factor included, N; a ring that does not is made a disc
/// (common practice, no source).
const AT_RIM_N: f64 = 60.0;
/// The disc in the recess is so much smaller in diameter, and so much lower, than the recess, mm (common practice, no source).
pub(crate) const BOSS_CLEAR: f64 = 0.2;

/// What the foot is glued by, its area, and the modulus that it meets a tipping force with. A ring that would not bear an ordinary
/// side force at the rim gets a disc in its recess.
pub(crate) fn foot_pad(shop: &Shop<'_>, height: f64) -> (Foot, f64, f64) {
    let piece = shop.piece;
    let ring = |inset: f64| piece.outline.parallel(inset, piece.tolerance);
    let points = |ring: &Ring| ring.0.iter().map(|p| p.to_array()).collect::<Vec<_>>();
    let outer = points(&ring(piece.foot_inset));
    let (area, modulus) = area_and_modulus(std::slice::from_ref(&outer)).unwrap_or((0.0, 0.0));
    let Some([_, land]) = piece.recess.filter(|_| !shop.sizes.only_roughs()) else { return (Foot::Pad, area, modulus) };
    let mut inner = points(&ring(piece.foot_inset + land));
    inner.reverse();
    let (of_ring, in_ring) = area_and_modulus(&[outer, inner]).unwrap_or((0.0, 0.0));
    let (_, tension_mpa) = bond(shop, shop.foot_glue);
    let weak = tension_mpa * in_ring < shop.goods.glue_factor * AT_RIM_N * height;
    // Glue on a mark would ruin it.
    if weak && piece.mark.is_none() { (Foot::Boss, area, modulus) } else { (Foot::Ring, of_ring, in_ring) }
}

/// Table or board under the blank with what stands up from it: jaws, screws with the room around them. Piece frame.
///
/// # Errors
/// [`PlanFault`].
pub(crate) fn keep(shop: &Shop<'_>, lies: Lies, frame: &Frame, table_z: f64) -> Result<Mesh, PlanFault> {
    let mut all = shop.table(frame, table_z);
    let (clamps, half) = (&shop.shelf.clamping, shop.sizes.half);
    let bottom = table_z - INTO_TABLE;
    let solids: Vec<[DVec3; 2]> = match chosen(shop, lies) {
        Hold::Screws => {
            let (at, r) = (half - DVec2::splat(SCREW_IN), clamps.screw_diameter / 2.0 + SCREW_CLEAR);
            let top = table_z + under(shop, lies) + clamps.screw_thread + SCREW_CLEAR;
            [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)]
                .map(|(x, y)| at * DVec2::new(x, y))
                .map(|c| [(c - DVec2::splat(r)).extend(bottom), (c + DVec2::splat(r)).extend(top)])
                .to_vec()
        }
        Hold::Vise => {
            let (x, top) = (clamps.vise_jaw.min(2.0 * half.x) / 2.0, table_z + clamps.vise_grip);
            vec![
                [DVec3::new(-x, half.y, bottom), DVec3::new(x, half.y + JAW, top)],
                [DVec3::new(-x, -half.y - JAW, bottom), DVec3::new(x, -half.y, top)],
            ]
        }
        Hold::Tape | Hold::Glue | Hold::Vacuum => Vec::new(),
    };
    for [a, b] in solids {
        let (a, b) = (DVec3::from_array(frame.to_piece(a.to_array())), DVec3::from_array(frame.to_piece(b.to_array())));
        all = solid(all.union(&Mesh::cuboid(a.min(b), a.max(b))), "the table with what holds the blank")?;
    }
    Ok(all)
}

/// Tells of a choice that cannot hold. `deepest` is how far the first setup cuts down from the top of the blank.
pub(crate) fn look(request: &Request<'_>, sizes: &Allowances, deepest: f64, report: &mut Report) {
    let (job, piece) = (request.job, request.piece);
    let Some(wanted) = &job.route.hold_blank else { return };
    let (clamps, units) = (&request.shelf.clamping, job.units);
    let one_sided = job.route.kind.value == RouteKind::OneSided;
    let free_all_round = one_sided && job.route.freeing.value == Freeing::Chips;
    let tall = match wanted.value {
        Hold::Screws => clamps.screw_thread,
        Hold::Vise => clamps.vise_grip,
        Hold::Tape | Hold::Glue | Hold::Vacuum => return,
    };
    let word = wanted.value.word();
    if free_all_round || (one_sided && wanted.value == Hold::Vise) {
        report
            .error(
                "holds-what-is-cut-away",
                wanted.at,
                format!("{word} would hold the wood around the piece, which is cut away or through to the table"),
            )
            .hint("take tape, glue or vacuum; with tabs (`freeing`) screws hold as well");
        return;
    }
    let left = sizes.thickness() - deepest;
    if left < tall + BELOW_CUTS && !one_sided {
        let text = format!(
            "{word} need {} of wood below the deepest cut; only {} is left",
            units.told(tall + BELOW_CUTS),
            units.told(left.max(0.0))
        );
        report.error("holds-too-high", wanted.at, text).hint("take tape, glue or vacuum, or a thicker blank");
    }
    if wanted.value == Hold::Screws {
        let at = sizes.half - DVec2::splat(SCREW_IN);
        let out = at.normalize_or(DVec2::X);
        let room = at.dot(out) - piece.outline.farthest(out, piece.tolerance).point.dot(out);
        let needs = clamps.screw_diameter / 2.0 + SCREW_CLEAR + BELOW_CUTS;
        if room < needs {
            let text = format!(
                "at the corners of the blank screws come within {} of the piece; expected {} or more",
                units.told(room.max(0.0)),
                units.told(needs)
            );
            report
                .error("screws-too-near", wanted.at, text)
                .hint("make the blank larger (`size`), or take tape, glue or vacuum");
        }
    }
}
