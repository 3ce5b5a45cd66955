//! Where each value of a shelf stands in its text, so that a finding about two of them can point at a line.

use base::At;
use std::collections::BTreeMap;

/// Places by path: `resin[2].layer_least`, `cutter 6.stickout`, `hours`.
#[derive(Clone, Debug, Default)]
pub(super) struct Places {
    by_path: BTreeMap<String, At>,
}

impl Places {
    /// Notes a place.
    pub(super) fn put(&mut self, path: String, at: At) {
        self.by_path.insert(path, at);
    }

    /// Notes all that stands below the path `from` under `to` as well.
    pub(super) fn also(&mut self, from: &str, to: &str) {
        let below = |path: &str| {
            let rest = path.strip_prefix(from)?;
            (rest.is_empty() || rest.starts_with('.')).then(|| format!("{to}{rest}"))
        };
        let more: Vec<(String, At)> = self.by_path.iter().filter_map(|(path, at)| Some((below(path)?, *at))).collect();
        self.by_path.extend(more);
    }

    /// The place of the first of these keys of a table that the text has; otherwise of the table, or of what it lies in.
    pub(super) fn of(&self, table: &str, keys: &[&str]) -> Option<At> {
        let key = keys.iter().find_map(|key| self.by_path.get(&format!("{table}.{key}")));
        key.copied().or_else(|| self.around(table))
    }

    /// The place of a path, or of the nearest table around it; the whole text is around everything.
    fn around(&self, path: &str) -> Option<At> {
        let cuts = path.char_indices().rev().filter(|(_, c)| matches!(c, '.' | '[')).map(|(i, _)| i);
        std::iter::once(path.len())
            .chain(cuts)
            .find_map(|i| self.by_path.get(&path[..i]))
            .or_else(|| self.by_path.get(""))
            .copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::FileId;

    #[test]
    fn what_is_not_there_is_looked_for_around_it() {
        let at = |n| At::new(FileId(0), n..n + 1);
        let mut places = Places::default();
        places.put("cutter[3]".into(), at(1));
        places.put("cutter[3].stickout".into(), at(2));
        places.put("cutter[30].stickout".into(), at(3));
        places.also("cutter[3]", "cutter 6");
        assert_eq!(places.of("cutter 6", &["neck_length", "stickout"]), Some(at(2)));
        assert_eq!(places.of("cutter 6", &["overall"]), Some(at(1)));
        assert_eq!(places.of("cutter[30]", &["stickout"]), Some(at(3)));
        assert_eq!(places.of("cutter[7]", &["stickout"]), None);
        places.put("cutter".into(), at(4));
        assert_eq!(places.of("cutter[7]", &["stickout"]), Some(at(4)));
    }
}
