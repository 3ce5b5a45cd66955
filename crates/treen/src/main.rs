//! The command line: runs a command and turns what came of it into an exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    treen::run()
}
