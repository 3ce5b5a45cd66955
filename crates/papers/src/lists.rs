//! buy-list.csv and cut-list.csv (RFC 4180: CRLF, quotes where a field needs them).

use route::{BuyLine, CutLine};

/// The buy list.
pub(crate) fn buy_list(lines: &[BuyLine], currency: &str) -> Vec<u8> {
    let head = ["item", "quantity", "unit", "price per unit", "cost", "currency", "note"].map(str::to_owned);
    let row = |l: &BuyLine| {
        [
            l.item.clone(),
            amount(l.quantity),
            l.unit.clone(),
            format!("{:.2}", l.price),
            format!("{:.2}", l.cost),
            currency.to_owned(),
            l.note.clone(),
        ]
    };
    table(&head, lines.iter().map(row))
}

/// The cut list.
pub(crate) fn cut_list(lines: &[CutLine]) -> Vec<u8> {
    let head = ["part", "wood", "board", "thickness mm", "width mm", "length mm", "count", "note"].map(str::to_owned);
    let row = |l: &CutLine| {
        [
            l.part.clone(),
            l.wood.clone(),
            l.board.clone(),
            format!("{:.1}", l.thickness),
            format!("{:.1}", l.width),
            format!("{:.1}", l.length),
            l.count.to_string(),
            l.note.clone(),
        ]
    };
    table(&head, lines.iter().map(row))
}

/// At most three decimals, none that say nothing.
pub(crate) fn amount(value: f64) -> String {
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn table<const N: usize>(head: &[String; N], rows: impl Iterator<Item = [String; N]>) -> Vec<u8> {
    let mut out = String::new();
    for row in std::iter::once(head.clone()).chain(rows) {
        out.push_str(&row.map(|f| field(&f)).join(","));
        out.push_str("\r\n");
    }
    out.into_bytes()
}

fn field(text: &str) -> String {
    if text.contains([',', '"', '\r', '\n']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reader_we_did_not_write_gives_the_fields_back() {
        let line = BuyLine {
            item: "walnut 8/4, \"select\"".into(),
            quantity: 2.25,
            unit: "bf".into(),
            price: 14.5,
            cost: 32.625,
            used: 2.25,
            used_cost: 32.625,
            note: "straight grain,\nno knots".into(),
        };
        let bytes = buy_list(std::slice::from_ref(&line), "USD");
        let mut reader = csv::Reader::from_reader(&bytes[..]);
        assert_eq!(reader.headers().unwrap().len(), 7);
        let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        assert_eq!(rows.len(), 1);
        assert_eq!(&rows[0][0], line.item);
        assert_eq!(&rows[0][1], "2.25");
        assert_eq!(&rows[0][6], line.note);
    }

    #[test]
    fn amounts_end_where_they_end() {
        assert_eq!(
            ["2", "0.5", "100", "0.333"],
            [2.0, 0.5, 100.0, 1.0 / 3.0].map(amount).each_ref().map(|s| s.as_str())
        );
    }
}
