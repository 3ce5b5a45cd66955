//! Cautions, tied to the step where they matter, each with its source. General help, not advice for a given shop.

/// Closes every list of cautions.
pub const CLOSING: &str =
    "Follow the supplier's safety data sheet, local codes and a licensed professional where they apply.";

/// What is being done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject<'a> {
    /// Choosing and preparing boards, sawing, planing.
    Milling,
    /// Gluing up.
    GlueUp,
    /// Fixing the work, and loosening it.
    Holding,
    /// Cutting on the machine.
    Carving {
        /// Whether there is resin in the wood.
        resin: bool,
    },
    /// Mixing resin.
    ResinMixing,
    /// Sealing, damming, pouring.
    Pouring,
    /// Waiting for the cure.
    Cure,
    /// Sanding.
    Sanding {
        /// Whether there is resin in the wood.
        resin: bool,
    },
    /// Finishing; `self_heating` if rags with this finish can heat by themselves, `sprayed` if it is sprayed or thinned.
    Finishing {
        /// From the finish on the shelf.
        self_heating: bool,
        /// Whether it is sprayed or thinned.
        sprayed: bool,
    },
    /// Handing over the finished piece.
    HandOver,
    /// Cleaning up.
    CleanUp,
    /// A wood, by its name.
    Species(&'a str),
    /// What to have at hand before anything starts.
    Emergencies,
}

/// One caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// In plain words.
    pub text: &'static str,
    /// Where it comes from.
    pub source: &'static str,
}

/// The cautions of a subject, most pressing first; the last is always the closing line.
pub fn cautions_for(subject: Subject<'_>) -> Vec<Caution> {
    let mut list = match subject {
        Subject::Milling => vec![SAWS, METAL, EYES, HEARING, DUST, LIFTING],
        Subject::GlueUp => vec![CLAMPS],
        Subject::Holding => vec![LOOSE_WORK, INSTANT_GLUE],
        Subject::Carving { resin } => {
            let mut all = vec![ATTENDED, LOOSE_WORK, ROTATING, EYES, HEARING, DUST];
            all.extend(resin.then_some(RESIN_DUST));
            all
        }
        Subject::ResinMixing => vec![UNCURED, FUMES, RUNAWAY],
        Subject::Pouring => vec![UNCURED, RUNAWAY, FUMES, TORCH, SOLVENT],
        Subject::Cure => vec![RUNAWAY, FUMES, CHILDREN],
        Subject::Sanding { resin } => {
            let dust = std::iter::once(DUST).chain(resin.then_some(RESIN_DUST));
            dust.chain([HOT_PAD, EYES, HEARING]).collect()
        }
        Subject::Finishing { self_heating, sprayed } => {
            let oil = self_heating.then_some(RAGS);
            let mist = sprayed.then_some(SPRAY);
            oil.into_iter().chain(mist).chain([SOLVENT]).collect()
        }
        Subject::HandOver => vec![FOOD],
        Subject::CleanUp => vec![DUST_FIRE, SPILLS, SOLVENT, CHILDREN],
        Subject::Species(name) => species(name),
        Subject::Emergencies => vec![EMERGENCY],
    };
    list.push(Caution { text: CLOSING, source: "closing line" });
    list
}

/// Cautions of a wood by words in its name; empty for woods without a known one.
fn species(name: &str) -> Vec<Caution> {
    let name = name.to_lowercase();
    let has = |words: &[&str]| words.iter().any(|w| name.contains(w));
    let mut list = Vec::new();
    if has(&["western redcedar", "western red cedar"]) {
        list.push(REDCEDAR);
    }
    if has(&["oak", "beech"]) {
        list.push(OAK_BEECH);
    }
    if has(&["teak", "mahogany", "walnut", "oak", "beech", "rosewood", "cocobolo", "iroko", "wenge"]) {
        list.push(SKIN);
    }
    if has(&["teak", "rosewood", "cocobolo"]) {
        list.push(OILY);
    }
    list
}

const METAL: Caution = Caution {
    text: "Scan reclaimed or yard-tree wood for nails, screws, wire and grit before any cutter touches it; cut out loose knots.",
    source: "common practice, no source",
};
const SAWS: Caution = Caution {
    text: "Work only with guards, push blocks and steady support. The off switch must be within reach, and the machine must not start by itself when power returns.",
    source: "US OSHA 29 CFR 1910.213(a), (b)",
};
const LIFTING: Caution = Caution {
    text: "Get help or a hoist for heavy slabs, and block stacks so they cannot slide.",
    source: "common practice, no source",
};
const CLAMPS: Caution = Caution {
    text: "A slipping clamp or a bowing blank lets go at once: keep the face out of line, tighten in turns, use cauls.",
    source: "common practice, no source",
};
const INSTANT_GLUE: Caution = Caution {
    text: "Keep instant glue off clothing and rags: on cotton, paper or wool it can reach scalding heat and burn the skin to full depth. Cool with plenty of water. It also sticks skin and irritates eyes and nose.",
    source: "Too Hot to Handle?, Journal of Burn Care & Research, doi 10.1093/jbcr/iraa174 (abstract)",
};
const LOOSE_WORK: Caution = Caution {
    text: "A blank that lets go becomes a missile. Try the hold by hand, keep screws, pins and clamps out of the cutter's way, and stay behind a shield with the stop within reach.",
    source: "US OSHA 29 CFR 1910.212(a), from memory; holding figures: common practice, no source",
};
const ATTENDED: Caution = Caution {
    text: "Never leave a running program alone: a blunt cutter can start a fire, a broken one flies.",
    source: "common practice, no source",
};
const ROTATING: Caution = Caution {
    text: "Cut power to the spindle before touching a cutter and let it stop. Never reach over a live spindle. No gloves, sleeves or loose hair near it; do not exceed the cutter's marked speed.",
    source: "US OSHA 29 CFR 1910.213(a); 1910.147, from memory",
};
const EYES: Caution = Caution {
    text: "Wear eye protection with side shields against chips and resin splinters.",
    source: "US OSHA 29 CFR 1910.133, from memory",
};
const HEARING: Caution = Caution {
    text: "Planers, routers and vacuum motors commonly exceed 85 dBA: wear hearing protection.",
    source: "NIOSH 98-126 (85 dBA over 8 h, halved for every 3 dB more); US OSHA 29 CFR 1910.95",
};
const DUST: Caution = Caution {
    text: "Collect dust at the cutter and wear a fitted P2/N95 or better mask: wood dust causes cancer of the nose, asthma and skin allergy.",
    source: "IARC Monographs vol. 62 (1995) and 100C (2012), Group 1; US OSHA 29 CFR 1910.1000 Table Z-1; NIOSH 1 mg/m³",
};
const DUST_FIRE: Caution = Caution {
    text: "Fine dust burns fast and can explode. Empty bins often, do not blow down with air, keep sparks and hot dust out of the collector, and look into it again after any burn: packed dust smoulders.",
    source: "NFPA 660, Standard for Combustible Dusts (2025), text not opened",
};
const RESIN_DUST: Caution = Caution {
    text: "Treat resin dust as harmful: collect it at the source, wear a mask, cover skin, and cut only well-cured resin, since half-cured dust can make you allergic.",
    source: "resin suppliers' health pages; US OSHA 29 CFR 1910.1000",
};
const UNCURED: Caution = Caution {
    text: "Resin, hardener and half-cured dust can make you allergic for life. Nitrile gloves changed often, sleeves, goggles; wash with soap, never with solvent. Hardener burns skin and eyes.",
    source: "UK HSE Research Report RR079; EU-OSHA, Occupational exposure to epoxy resins (abstracts)",
};
const FUMES: Caution =
    Caution { text: "Ventilate to the outside; a dust mask stops no vapour.", source: "suppliers' data sheets" };
const RUNAWAY: Caution = Caution {
    text: "Cure makes heat and heat speeds the cure: 100 g left in a cup has been seen to reach about 200 °C. Keep to the supplier's depth and mass, let each layer cool, spread leftovers thin in a tray outdoors, and never bin warm resin.",
    source: "two resin suppliers' safety pages on uncontrolled cure",
};
const TORCH: Caution = Caution {
    text: "No flame on bubbles if solvent, alcohol or finish was used in the room or on the piece, nor near cans, paper, dust or a plastic dam; pass quickly, or use warm air.",
    source: "resin supplier's safety page; NIOSH Pocket Guide, acetone (second hand)",
};
const SOLVENT: Caution = Caution {
    text: "Solvent vapour lights far below room temperature and runs along the floor to a flame. Small amounts, closed cans, open air flow, no spark or hot tool in the room.",
    source: "NIOSH Pocket Guide, acetone (second hand); US OSHA 29 CFR 1910.106 and NFPA 30, from memory",
};
const SPILLS: Caution = Caution {
    text: "Take up resin and hardener with sand or mineral absorbent: hardener in sawdust or paper can heat until it burns.",
    source: "resin supplier's safety page",
};
const HOT_PAD: Caution = Caution {
    text: "Keep fingers from the edge of the pad and empty the bag before anything can spark; resin that grows warm softens and grabs.",
    source: "US OSHA 29 CFR 1910.213, section from memory",
};
const RAGS: Caution = Caution {
    text: "Spread the oily rags flat outdoors in one layer until stiff, or drown them in water in a lidded metal can, today. Crumpled rags, paper and fresh sanding dust with hardening oil heat by themselves and can burn within hours.",
    source: "NFPA tip sheet on oily rags and an insurer's case report; dust: common practice, no source",
};
const SPRAY: Caution = Caution {
    text: "Spray outdoors or in a proper booth with no flame or spark, and wear a mask for vapour; keep only the day's amount at hand. Two-part finishes with isocyanate are not for home use.",
    source: "US OSHA 29 CFR 1910.106, 1910.107 and NFPA 33, from memory",
};
const FOOD: Caution = Caution {
    text: "No food before full cure. Ask the supplier for a written food-contact statement for the mixed and cured product; keep resin and film out of hot liquids and away from knives unless the supplier allows it. Nut oils may be allergens.",
    source: "US 21 CFR 175.300, paragraphs (a) and (b)",
};
const CHILDREN: Caution = Caution {
    text: "Keep children and pets away and lock resins, solvents and glues up. Cure leftovers before disposal: liquid resin and solvent are hazardous waste in most places.",
    source: "suppliers' data sheets; local waste rules",
};
const REDCEDAR: Caution = Caution {
    text: "Dust of western redcedar causes asthma; its limit is half that of other woods.",
    source: "OSHA chemical sampling page with ACGIH notations",
};
const OAK_BEECH: Caution = Caution {
    text: "Of all wood dusts, oak and beech carry the strongest evidence of cancer of the nose.",
    source: "OSHA chemical sampling page with ACGIH notations",
};
const SKIN: Caution = Caution {
    text: "Skin and breathing complaints are known from the dust of this wood.",
    source: "OSHA chemical sampling page with ACGIH notations",
};
const OILY: Caution = Caution {
    text: "Wipe the joints of this oily wood with solvent and glue at once; let the solvent go before heat, sanding or clamps with heaters.",
    source: "common practice, no source; solvent: NIOSH Pocket Guide, acetone (second hand)",
};
const EMERGENCY: Caution = Caution {
    text: "Eyes: rinse with water 15 minutes, then a doctor. Resin on skin: soap and water. Burn: cool running water 20 minutes. Solvent or resin fire: get out, call the fire service; a water jet spreads it. Have an extinguisher of class B, and A for rags and wood, within reach.",
    source: "first-aid practice, from memory",
};

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Subject<'_>; 13] = [
        Subject::Milling,
        Subject::GlueUp,
        Subject::Holding,
        Subject::Carving { resin: true },
        Subject::ResinMixing,
        Subject::Pouring,
        Subject::Cure,
        Subject::Sanding { resin: true },
        Subject::Finishing { self_heating: true, sprayed: true },
        Subject::HandOver,
        Subject::CleanUp,
        Subject::Species("white oak"),
        Subject::Emergencies,
    ];

    #[test]
    fn every_subject_has_cautions_with_sources_and_the_closing_line() {
        for subject in ALL {
            let list = cautions_for(subject);
            assert!(list.len() >= 2, "{subject:?}");
            assert!(list.iter().all(|c| !c.text.is_empty() && !c.source.is_empty()));
            assert_eq!(list.last().map(|c| c.text), Some(CLOSING));
        }
    }

    #[test]
    fn rags_are_named_where_they_heat_and_only_there() {
        let finishing = |self_heating, sprayed| cautions_for(Subject::Finishing { self_heating, sprayed });
        assert!(finishing(true, false).contains(&RAGS) && !finishing(false, true).contains(&RAGS));
        assert!(finishing(false, true).contains(&SPRAY) && !finishing(true, false).contains(&SPRAY));
    }

    #[test]
    fn species_are_told_apart() {
        assert_eq!(cautions_for(Subject::Species("Western redcedar"))[0], REDCEDAR);
        assert_eq!(cautions_for(Subject::Species("sugar maple")).len(), 1);
        assert!(cautions_for(Subject::Species("American beech")).contains(&OAK_BEECH));
        assert!(cautions_for(Subject::Species("black walnut")).contains(&SKIN));
    }

    #[test]
    fn nothing_claims_that_food_is_safe() {
        for subject in ALL {
            assert!(cautions_for(subject).iter().all(|c| !c.text.to_lowercase().contains("food safe")));
        }
    }
}
