//! Heat and cure of a casting resin: how warm a pour grows, how the cure runs through it, how deep it may be poured.
//!
//! The conversion `a` (0 to 1) of every cell of resin follows an autocatalytic law ([`kinetics`]), the heat it gives
//! off spreads by conduction through resin and wood and leaves to the air ([`body`]); both are marched together by an
//! explicit method made for such equations ([`march`]). [`slab`] asks the same of a plain layer on wood, and
//! [`runaway`] has the classical limit beyond which a reacting body heats itself without end.
//!
//! SI units throughout: m, s, J, W, kg; temperatures in °C, in kelvin inside exponentials. Lengths in mm only where a
//! name says so.

pub mod body;
pub mod kinetics;
pub mod march;
pub mod number;
pub mod runaway;
pub mod slab;
pub mod wave;

#[cfg(test)]
mod tests;
