//! The job's text as values by path, and changes of single values that keep the maker's comments and order.

use super::wire::{Edit, NewValue, ValueView};
use base::{Length, Units, mm};
use std::collections::BTreeMap;
use std::ops::Range;
use toml_edit::{Array, ArrayOfTables, Document, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// Values by path, each with the bytes it takes up; empty for a text that can't be read.
pub fn values(text: &str) -> BTreeMap<String, (ValueView, Range<usize>)> {
    let mut found = BTreeMap::new();
    if let Ok(document) = Document::parse(text) {
        let units = units_of(document.as_table());
        gather(document.as_table(), "", units, &mut found);
    }
    found
}

fn units_of(root: &Table) -> Units {
    let inch = root.get("units").and_then(Item::as_str) == Some("in");
    if inch { Units::In } else { Units::Mm }
}

type Found = BTreeMap<String, (ValueView, Range<usize>)>;

fn gather(table: &dyn TableLike, path: &str, units: Units, found: &mut Found) {
    for (key, item) in table.iter() {
        let path = if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
        match item {
            Item::Table(inner) => gather(inner, &path, units, found),
            Item::ArrayOfTables(list) => {
                for (k, inner) in list.iter().enumerate() {
                    gather(inner, &format!("{path}.{k}"), units, found);
                }
            }
            Item::Value(value) => gather_value(value, &path, units, found),
            Item::None => {}
        }
    }
}

fn gather_value(value: &Value, path: &str, units: Units, found: &mut Found) {
    let number = match value {
        Value::Integer(n) => Some(*n.value() as f64),
        Value::Float(x) => Some(*x.value()),
        _ => None,
    };
    let text = match value {
        Value::String(text) => text.value().clone(),
        Value::Array(list) => {
            for (k, inner) in list.iter().enumerate() {
                gather_value(inner, &format!("{path}.{k}"), units, found);
            }
            return;
        }
        Value::InlineTable(inner) => return gather(inner, path, units, found),
        other => other.to_string().trim().to_owned(),
    };
    let length = match value {
        Value::String(_) => Length::parse(&text, units).ok().map(Length::as_mm),
        _ => number.map(|n| if units == Units::In { n * 25.4 } else { n }),
    };
    let view = ValueView { text, mm: length.filter(|v| v.is_finite()), number };
    found.insert(path.to_owned(), (view, value.span().unwrap_or_default()));
}

/// The text after these changes.
///
/// # Errors
/// In words, if a path does not fit the text or the text can't be read.
pub fn edited(text: &str, edits: &[Edit]) -> Result<String, String> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|e: toml_edit::TomlError| format!("the text has a mistake, mend that first: {}", e.message()))?;
    let units = units_of(document.as_table());
    for edit in edits {
        let parts: Vec<&str> = edit.path.split('.').collect();
        change(document.as_item_mut(), &parts, &edit.to, units).map_err(|why| format!("{}: {why}", edit.path))?;
    }
    Ok(document.to_string())
}

fn change(item: &mut Item, path: &[&str], to: &NewValue, units: Units) -> Result<(), String> {
    let missing = || "there is no such place in the text".to_owned();
    let [key, rest @ ..] = path else { return Err(missing()) };
    if let Item::ArrayOfTables(list) = item {
        let k: usize = key.parse().map_err(|_| missing())?;
        if rest.is_empty() {
            return match to {
                NewValue::Gone if k < list.len() => {
                    list.remove(k);
                    Ok(())
                }
                _ => Err("only its values can be changed".to_owned()),
            };
        }
        let table = list.get_mut(k).ok_or_else(missing)?;
        return change_in(table, rest, to, units);
    }
    match item {
        Item::Value(Value::Array(list)) => change_in_array(list, path, to, units),
        _ => change_in(item.as_table_like_mut().ok_or_else(missing)?, path, to, units),
    }
}

fn change_in(table: &mut dyn TableLike, path: &[&str], to: &NewValue, units: Units) -> Result<(), String> {
    let missing = || "there is no such place in the text".to_owned();
    let [key, rest @ ..] = path else { return Err(missing()) };
    if !rest.is_empty() {
        return change(table.get_mut(key).ok_or_else(missing)?, rest, to, units);
    }
    match (to, table.get_mut(key)) {
        (NewValue::Gone, Some(Item::ArrayOfTables(_) | Item::Table(_) | Item::Value(_))) => {
            table.remove(key);
        }
        (NewValue::Gone, _) => {}
        (NewValue::More { toml }, old) => {
            let new: DocumentMut = toml.parse().map_err(|e: toml_edit::TomlError| e.message().to_owned())?;
            let mut new = new.as_table().clone();
            // A place of its own makes it follow what stands before it.
            new.set_position(None);
            match old {
                Some(Item::ArrayOfTables(list)) => {
                    let last = list.iter().filter_map(Table::position).max();
                    new.set_position(last);
                    list.push(new);
                }
                Some(_) => return Err("something else stands there".to_owned()),
                None => {
                    let mut list = ArrayOfTables::new();
                    new.decor_mut().set_prefix("\n");
                    list.push(new);
                    table.insert(key, Item::ArrayOfTables(list));
                }
            }
        }
        (_, Some(Item::Value(old))) => replace(old, to, units)?,
        (_, Some(_)) => return Err("only its values can be changed".to_owned()),
        (_, None) => {
            table.insert(key, Item::Value(new_value(to, None, units)?));
        }
    }
    Ok(())
}

fn change_in_array(list: &mut Array, path: &[&str], to: &NewValue, units: Units) -> Result<(), String> {
    let place = path.first().and_then(|key| key.parse::<usize>().ok()).filter(|_| path.len() == 1);
    let old = place.and_then(|k| list.get_mut(k)).ok_or("there is no such place in the text")?;
    if matches!(to, NewValue::Gone) {
        return Err("it can be changed, not taken out".to_owned());
    }
    replace(old, to, units)
}

fn replace(old: &mut Value, to: &NewValue, units: Units) -> Result<(), String> {
    let mut new = new_value(to, Some(old), units)?;
    *new.decor_mut() = old.decor().clone();
    *old = new;
    Ok(())
}

fn new_value(to: &NewValue, old: Option<&Value>, units: Units) -> Result<Value, String> {
    Ok(match to {
        NewValue::Mm { value } if !value.is_finite() => return Err("a length was expected".to_owned()),
        NewValue::Mm { value } => match old {
            Some(Value::Integer(_) | Value::Float(_)) => {
                number(if units == Units::In { value / 25.4 } else { *value }, old)
            }
            Some(Value::String(text)) => written(*value, text.value(), units).into(),
            _ => written(*value, "", units).into(),
        },
        NewValue::Text { value } if value.chars().any(char::is_control) => {
            return Err("it must stand on one line".to_owned());
        }
        NewValue::Text { value } => value.as_str().into(),
        NewValue::Number { value } if !value.is_finite() => return Err("a number was expected".to_owned()),
        NewValue::Number { value } => number(*value, old),
        NewValue::Flag { value } => (*value).into(),
        NewValue::Table { toml } => {
            let table: InlineTable = match toml.parse::<Value>() {
                Ok(Value::InlineTable(table)) => table,
                Ok(_) => return Err("a table was expected".to_owned()),
                Err(e) => return Err(e.message().to_owned()),
            };
            Value::InlineTable(table)
        }
        NewValue::Gone | NewValue::More { .. } => return Err("a value was expected".to_owned()),
    })
}

/// A number, without a point where none is needed, unless one stood there.
fn number(value: f64, old: Option<&Value>) -> Value {
    let value = (value * 1e6).round() / 1e6;
    let whole = value.fract() == 0.0 && value.abs() < 1e15 && !matches!(old, Some(Value::Float(_)));
    if whole { (value as i64).into() } else { value.into() }
}

/// A length in the unit the maker wrote there, else in the job's.
fn written(length: f64, old: &str, units: Units) -> String {
    let old = old.trim_end();
    let inch = old.ends_with(['"', '″', '”']) || ["in", "inch", "inches"].iter().any(|unit| old.ends_with(unit));
    let bare = old.is_empty() || old.ends_with(|c: char| c.is_ascii_digit());
    if inch || (bare && units == Units::In) {
        return inches(length / 25.4);
    }
    let trimmed = |x: f64| format!("{}", (x * 1e3).round() / 1e3);
    if old.ends_with("cm") { format!("{} cm", trimmed(length / 10.0)) } else { format!("{} mm", trimmed(length)) }
}

/// Inches as a rule shows them where they fall on a 64th, else with four decimals.
fn inches(value: f64) -> String {
    let parts = (value * 64.0).round();
    if (value * 64.0 - parts).abs() > 1e-3 || value < 0.0 {
        return format!("{} in", (value * 1e4).round() / 1e4);
    }
    let (whole, mut top, mut bottom) = ((parts / 64.0).floor(), parts as u64 % 64, 64);
    while top > 0 && top % 2 == 0 {
        (top, bottom) = (top / 2, bottom / 2);
    }
    match (whole as u64, top) {
        (whole, 0) => format!("{whole} in"),
        (0, top) => format!("{top}/{bottom} in"),
        (whole, top) => format!("{whole} {top}/{bottom} in"),
    }
}

/// The job's units as a word.
pub fn units_word(text: &str) -> &'static str {
    let inch = Document::parse(text).is_ok_and(|document| units_of(document.as_table()) == Units::In);
    if inch { "in" } else { "mm" }
}

/// A length in the maker's units.
pub(super) fn told(length: f64, units: Units) -> String {
    mm(length).print(units)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = r#"# A bowl.
units = "mm" # metric

[piece] # the piece
outline = { kind = "circle", diameter = "190 mm" } # round
wall = "6 mm"   # thin
floor = 7

[[cast]]
# the tide
length = ["6 mm", "18 mm"]
pigment = 0.015

[route]
kind = "two-sided"
"#;

    fn edit(path: &str, to: NewValue) -> Edit {
        Edit { path: path.to_owned(), to }
    }

    #[test]
    fn values_are_known_by_path_with_their_places() {
        let values = values(TEXT);
        let (wall, place) = &values["piece.wall"];
        assert_eq!((wall.text.as_str(), wall.mm), ("6 mm", Some(6.0)));
        assert_eq!(&TEXT[place.clone()], "\"6 mm\"");
        assert_eq!(values["piece.outline.diameter"].0.mm, Some(190.0));
        assert_eq!(values["cast.0.length.1"].0.mm, Some(18.0));
        assert_eq!(values["piece.floor"].0.number, Some(7.0));
        assert_eq!(values["route.kind"].0.mm, None);
        assert!(super::values("wall = ").is_empty());
    }

    #[test]
    fn a_change_keeps_everything_else_as_it_was() {
        let edits = [
            edit("piece.wall", NewValue::Mm { value: 6.5 }),
            edit("piece.outline.diameter", NewValue::Text { value: "7 1/2 in".into() }),
            edit("piece.floor", NewValue::Mm { value: 8.0 }),
            edit("cast.0.length.0", NewValue::Mm { value: 5.25 }),
            edit("cast.0.pigment", NewValue::Number { value: 0.02 }),
        ];
        let wanted = TEXT
            .replace("\"6 mm\"   #", "\"6.5 mm\"   #")
            .replace("\"190 mm\"", "\"7 1/2 in\"")
            .replace("floor = 7", "floor = 8")
            .replace("[\"6 mm\"", "[\"5.25 mm\"")
            .replace("0.015", "0.02");
        assert_eq!(edited(TEXT, &edits).unwrap(), wanted);
    }

    #[test]
    fn tables_come_and_go() {
        let foot = edit("piece.foot", NewValue::Table { toml: r#"{ kind = "pad" }"#.into() });
        let text = edited(TEXT, &[foot]).unwrap();
        assert!(text.contains("floor = 7\nfoot = { kind = \"pad\" }\n"), "{text}");
        let more = edit("cast", NewValue::More { toml: "name = \"b\"\nkind = \"ring-band\"\n".into() });
        let text = edited(TEXT, &[more]).unwrap();
        assert_eq!(text.matches("[[cast]]").count(), 2, "{text}");
        assert!(text.find("name = \"b\"").unwrap() < text.find("[route]").unwrap(), "{text}");
        let text = edited(TEXT, &[edit("cast.0", NewValue::Gone)]).unwrap();
        assert!(!text.contains("[[cast]]") && text.contains("[route]"), "{text}");
        let text = edited(TEXT, &[edit("piece.wall", NewValue::Gone)]).unwrap();
        assert!(!text.contains("wall"), "{text}");
        let first = edited("a = 1\n", &[edit("cast", NewValue::More { toml: "name = \"b\"\n".into() })]).unwrap();
        assert_eq!(first, "a = 1\n\n[[cast]]\nname = \"b\"\n");
    }

    #[test]
    fn what_does_not_fit_is_refused() {
        for (path, to) in [
            ("piece", NewValue::Number { value: 1.0 }),
            ("nothing.there", NewValue::Number { value: 1.0 }),
            ("cast.7.pigment", NewValue::Number { value: 1.0 }),
            ("cast.0.length.5", NewValue::Mm { value: 1.0 }),
            ("piece.wall", NewValue::Mm { value: f64::NAN }),
            ("piece.wall", NewValue::Text { value: "6 mm\n[evil]".into() }),
            ("piece.foot", NewValue::Table { toml: "1 }\n[evil]".into() }),
        ] {
            assert!(edited(TEXT, &[edit(path, to.clone())]).is_err(), "{path} {to:?}");
        }
        assert!(edited("wall = ", &[]).is_err());
    }

    #[test]
    fn lengths_are_written_in_the_unit_that_stood_there() {
        let cases = [
            (57.15, "2 in", Units::Mm, "2 1/4 in"),
            (57.15, "2\"", Units::Mm, "2 1/4 in"),
            (50.8, "", Units::In, "2 in"),
            (6.35, "1/2 in", Units::In, "1/4 in"),
            (10.0, "1/2 in", Units::In, "0.3937 in"),
            (57.15, "6 cm", Units::In, "5.715 cm"),
            (57.15, "6 mm", Units::In, "57.15 mm"),
            (57.1504, "", Units::Mm, "57.15 mm"),
        ];
        for (length, old, units, wanted) in cases {
            assert_eq!(written(length, old, units), wanted);
            let read = Length::parse(wanted, Units::Mm).unwrap().as_mm();
            assert!((read - length).abs() < 2e-3, "{wanted} reads as {read}");
        }
    }
}
