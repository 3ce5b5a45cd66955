//! A commented job to start from.

use crate::reader::GREATEST_TEXT;

/// The text, with a title that any job can bear.
pub(crate) fn starter(title: &str) -> String {
    let title: String = title.chars().map(|c| if c.is_control() { ' ' } else { c }).take(GREATEST_TEXT).collect();
    let title = if title.trim().is_empty() { "Untitled bowl" } else { title.trim() };
    STARTER.replace("TITLE", &title.replace('\\', "\\\\").replace('"', "\\\""))
}

const STARTER: &str = r##"# A job: one piece, from boards to finish. Lengths are "6 mm", "6,35 mm", "2 1/4 in" or a
# plain number in `units`. What begins with `#` is left out; remove the mark to use it.
title = "TITLE"
units = "mm"            # of plain numbers, and of what is printed: "mm" or "in"
seed = 7                # another seed, other drips
# start = "2027-03-01"  # first working day; gives the calendar its dates

[piece]                 # as it stands on its foot when it is done
# Seen from above. Others: { kind = "ellipse", length = "240 mm", width = "170 mm" },
# { kind = "rounded-rectangle", length = "240 mm", width = "170 mm", corner = "40 mm" },
# { kind = "lobed", diameter = "200 mm", lobes = 5, depth = 0.08 }, { kind = "svg", file = "leaf.svg", corner = "40 mm" }
outline = { kind = "circle", diameter = "190 mm" }
height = "52 mm"
wall = "6 mm"           # least wall, square to its surface
floor = "7 mm"          # least floor
floor_radius = "14 mm"  # where the inside wall meets the floor
rim_round = "1 mm"      # on the inner rim edge
# Others: { kind = "straight", draft = 15 } (degrees), { kind = "ogee", foot_inset = "35 mm" }, "flared", "bell", "footed", and
# { kind = "points", points = [{ inset = "9 mm", height = "20 mm" }, { inset = "35 mm", height = 0, slope = 20 }] }
outside = { kind = "round", foot_inset = "35 mm" }
inside = { kind = "follow" }   # or { kind = "straight", draft = 10 }
foot = { kind = "recess", land = "8 mm", depth = "1.2 mm" }   # or { kind = "pad" }
# mark = { text = "Alder 14", height = "10 mm" }   # engraved under the foot; depth = "0.8 mm", angle = 60 unless told

[[cast]]                # resin; one such table for each pour, in order; none for a piece of wood alone
name = "drips"
kind = "rim-drips"      # or "ring-band", which needs only `band`
resin = "medium casting"   # by its name on the shelf
colour = "#1f7a8c"
translucent = false
pigment = 0.015         # fraction of the mixed mass
band = "6 mm"           # height of the ring at the rim
count = 9
length = ["8 mm", "20 mm"]   # least and greatest, below the ring
width = ["8 mm", "12 mm"]

[blank]
wood = "black walnut"   # by its name on the shelf
boards = "6/4"          # rough boards in quarters of an inch, or measured: "52 mm"
# board_width = "200 mm"        # of the rough boards you have
# size = ["220 mm", "220 mm"]   # computed if left out
# beyond_rim = "7 mm"           # waste beyond the rim; computed if left out
# beyond_foot = "1.5 mm"        # waste beyond the foot; computed if left out

[route]
kind = "two-sided"      # or "one-sided": flat bottom, upright outside, no resin
scallop = "0.02 mm"     # greatest ridge the last cutter leaves
finish = "hardening oil"   # by its name on the shelf
# first_grit = 150      # start sanding here; computed from the scallop if left out
# rest = "2.5 mm"       # two-sided: rough both sides, leave so much, let the wood rest, then finish both
# freeing = "tabs"      # one-sided: a moat around the piece and tabs to saw, in place of all into chips
"##;

/// A record to fill in, of the piece with this title.
pub(crate) fn record_starter(title: &str) -> String {
    let title: String = title.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    RECORD.replace("TITLE", title.trim())
}

const RECORD: &str = r##"# What was measured on one piece in the making: TITLE
# Take the mark `#` away from each line once you have measured it. Then print the sheet again with
#     treen plan JOB --record record.toml --out PACK
# The numbers below are samples, not those of this piece: the sheet has what is expected.
# Only the numbers to set at touch-off change; the programs stay as they are. What they cannot bear is refused.
units = "mm"                                # of plain numbers: "mm" or "in"

# Before the first setup (step trim): thickness of the blank, mean of its four corners (T0).
# blank = "65.5 mm"

# After the cavity (step inspect-cavity): depth of the two witnesses as cut: front right, back left (w).
# witness = ["4.00 mm", "4.00 mm"]

# After levelling (step inspect-level): depth left in them, in the same order (w_m).
# witness_left = ["2.90 mm", "2.90 mm"]

# Before the outside (step hold-outside): ten layers of tape measured together, by ten, times the layers used,
# and 0.03 mm for the glue (t_t).
# tape = "0.30 mm"

# After the outside (step inspect-outside): foot plane to rim face at the middles of the flange's four edges, mean (L_m).
# foot_to_rim = "62.18 mm"
"##;
