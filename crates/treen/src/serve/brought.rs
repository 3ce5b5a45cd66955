//! A job that begins with a file of the maker's: a drawing for its outline, or a solid in the place of its shape.

use super::edit::edited;
use super::folder::Refusal;
use super::wire::{Edit, NewValue};

/// What the starter tells of a shape that a solid tells itself, and the casts, which can't be laid into one yet.
const TOLD_BY_SOLID: [&str; 8] =
    ["outline", "height", "floor_radius", "rim_round", "outside", "inside", "foot", "mark"];

/// The text of a job that takes its shape from a file beside it.
///
/// # Errors
/// [`Refusal::NotAllowed`] if no such file can be taken.
pub(super) fn job_with(title: &str, file: &str) -> Result<String, Refusal> {
    let plain = |c: char| c.is_alphanumeric() || "._- ".contains(c);
    if file.is_empty() || file.len() > 100 || file.starts_with('.') || !file.chars().all(plain) {
        let why = format!("“{file}” can't be the name of a file beside a job: give it a plain name, such as leaf.svg");
        return Err(Refusal::NotAllowed(why));
    }
    let gone = |path: String| Edit { path, to: NewValue::Gone };
    let table = |path: &str, toml: String| Edit { path: path.to_owned(), to: NewValue::Table { toml } };
    let ending = file.rsplit('.').next().unwrap_or_default().to_ascii_lowercase();
    let edits = match ending.as_str() {
        "svg" => vec![
            gone("cast".to_owned()),
            table(
                "piece.outline",
                format!("{{ kind = \"svg\", file = \"{file}\", length = \"190 mm\", corner = \"40 mm\" }}"),
            ),
        ],
        "stl" | "obj" | "3mf" => {
            let units = if ending == "3mf" { "" } else { ", units = \"mm\"" };
            let told = TOLD_BY_SOLID.iter().map(|key| gone(format!("piece.{key}")));
            let mesh = table("piece.mesh", format!("{{ file = \"{file}\"{units} }}"));
            std::iter::once(gone("cast".to_owned())).chain(told).chain([mesh]).collect()
        }
        _ => {
            let why = format!("“{file}” is neither a drawing (.svg) nor a solid (.stl, .obj, .3mf)");
            return Err(Refusal::NotAllowed(why));
        }
    };
    edited(&job::starter(title), &edits).map_err(Refusal::Fault)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drawing_and_a_solid_have_jobs_without_mistakes() {
        for file in ["leaf.svg", "my bowl.STL", "bowl.3mf", "bowl.obj"] {
            let text = job_with("Brought", file).unwrap();
            let (job, report) = job::parse(&text, base::FileId(0));
            // The file itself is not there: that is all that may be wrong.
            let others: Vec<_> = report.findings.iter().filter(|f| !f.text.contains(file)).collect();
            assert!(others.is_empty(), "{file}: {others:?}\n{text}");
            assert!(text.contains(&format!("file = \"{file}\"")) && !text.contains("[[cast]]"), "{text}");
            drop(job);
        }
    }

    #[test]
    fn nothing_else_is_taken() {
        for file in ["../leaf.svg", "a/b.svg", ".svg", "", "leaf.png", "x\".svg", "a\\b.stl", "job.toml"] {
            assert!(job_with("x", file).is_err(), "{file}");
        }
    }
}
