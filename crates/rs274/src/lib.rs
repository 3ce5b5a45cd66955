//! The control language RS-274/NGC (NISTIR 6556) and ISO 6983-1: reader, interpreter, writer.
//!
//! It knows nothing of what a cutter is for, of setups or of the planner. Reader and writer share no code, so that what
//! is read back is a second opinion. Lengths in mm, feeds in mm/min after reading, whatever the text's units.
//!
//! Section numbers in the modules below are those of T. R. Kramer, F. M. Proctor, E. Messina, *The NIST RS274/NGC
//! Interpreter – Version 3*, NISTIR 6556 (2000).
//!
//! ```
//! use rs274::{interpret::{What, run}, write::{Act, Capabilities, Program, write}};
//! let program = Program {
//!     title: "one cut".into(),
//!     work_offset: 54,
//!     safe_z: 20.0,
//!     acts: vec![
//!         Act::Rapid { x: Some(5.0), y: Some(0.0), z: None },
//!         Act::Feed { to: [5.0, 0.0, -1.0], feed: 300.0 },
//!     ],
//!     ..Program::default()
//! };
//! let events = run(&write(&program, &Capabilities::default())?)?;
//! let cut = What::Straight { from: [5.0, 0.0, 20.0], to: [5.0, 0.0, -1.0], feed: Some(300.0) };
//! assert!(events.iter().any(|event| event.what == cut));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod interpret;
pub mod write;
