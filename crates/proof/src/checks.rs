//! The checks, one subject a file: figure, limit, where, remedy.

pub(crate) mod abrasive;
pub(crate) mod burning;
pub(crate) mod chips;
pub(crate) mod contact;
pub(crate) mod cover;
pub(crate) mod flip;
pub(crate) mod frames;
pub(crate) mod gouge;
pub(crate) mod leftover;
pub(crate) mod load;
pub(crate) mod loose;
pub(crate) mod order;
pub(crate) mod pour;
pub(crate) mod programs;
pub(crate) mod room;
pub(crate) mod stands;
pub(crate) mod stock;
pub(crate) mod touch_off;
pub(crate) mod wall;
