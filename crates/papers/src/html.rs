//! The shop sheet as one HTML file: pictures inside, no script, made to print.

use crate::picture::png_size;
use crate::sheet::{Block, Cell, Mark, Paper, Picture, Sheet, Table};
use crate::threemf::xml;
use std::fmt::Write as _;

const STYLE: &str = "
:root{color-scheme:light}
body{font:16px/1.45 'Source Sans 3',system-ui,sans-serif;color:#26221e;background:#fff;max-width:58rem;margin:2rem auto;padding:0 1.2rem}
h1{font-size:2.2rem;margin:0;line-height:1.15}h1+p{margin:.1rem 0 1rem;color:#6b6158}
h2{font-size:1.35rem;border-bottom:2px solid #8a5a33;padding-bottom:.15rem;margin:2rem 0 .7rem}
h3{display:flex;gap:.7rem;align-items:baseline;background:#f1e9df;padding:.45rem .7rem;margin:1.8rem 0 .7rem;font-size:1.15rem;break-after:avoid}
h3 .n{background:#8a5a33;color:#fff;border-radius:.3rem;padding:0 .5rem;font-variant-numeric:tabular-nums}
h3 .t{flex:1}h3 .w{font-weight:400;font-size:.95rem;color:#5d5249;white-space:nowrap}
h4{margin:.9rem 0 .2rem;font-size:1rem}
table{border-collapse:collapse;width:100%;margin:.5rem 0 .8rem;font-size:.95rem}
th{text-align:left;font-weight:600;border-bottom:1.5px solid #8a5a33;padding:.2rem .5rem .2rem 0;vertical-align:bottom}
td{border-bottom:1px solid #e2d9ce;padding:.28rem .5rem .28rem 0;vertical-align:top}
tr{break-inside:avoid}td.fill{border:1.5px solid #8f857b;min-width:4.5rem;height:1.8rem}
dl{display:grid;grid-template-columns:max-content 1fr;gap:.15rem .9rem;margin:.5rem 0 .8rem}dt{font-weight:600}dd{margin:0}
ul.ticks{list-style:none;padding:0;margin:.3rem 0 .7rem}ul.ticks li{padding-left:1.9rem;position:relative;margin:.35rem 0}
ul.ticks li::before{content:'';position:absolute;left:0;top:.22rem;width:.95rem;height:.95rem;border:1.5px solid #5d5249;border-radius:.15rem}
.caution{border-left:.35rem solid #c8871e;background:#fdf5e6;padding:.5rem .8rem;margin:.6rem 0 1rem}
.caution.strong{border-color:#b3261e;background:#fcecea}.caution p{margin:.2rem 0}
.beside{display:flex;gap:1.4rem;align-items:flex-start;break-inside:avoid}.beside>div{flex:1;min-width:0}
figure{margin:0 0 .6rem}figure img,figure svg{width:100%;height:auto;border-radius:.3rem}figcaption,.small{font-size:.85rem;color:#6b6158}
.good{color:#2c6e2f}.look{color:#8a5a00}.bad{color:#b3261e}
footer{margin-top:2.5rem;font-size:.85rem;color:#6b6158;border-top:1px solid #e2d9ce;padding-top:.5rem}
@media (max-width:40rem){.beside{flex-direction:column-reverse}.beside figure{width:100%!important}}
@media print{body{margin:0;max-width:none;font-size:10.5pt}.page{break-before:page}.caution,h3,th,h3 .n{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
";

/// Writes the sheet.
pub(crate) fn write(sheet: &Sheet) -> Vec<u8> {
    let mut out = String::new();
    let title = xml(&sheet.title);
    let paper = if sheet.paper == Paper::Letter { "letter" } else { "A4" };
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"><title>{title}</title><style>@page{{size:{paper};margin:16mm}}{STYLE}</style></head><body>\n"
    );
    for block in &sheet.blocks {
        write_block(&mut out, sheet, block);
    }
    let _ = writeln!(out, "<footer>{}</footer></body></html>", xml(&sheet.foot));
    out.into_bytes()
}

fn write_block(out: &mut String, sheet: &Sheet, block: &Block) {
    let _ = match block {
        Block::Title { text, below } => writeln!(out, "<h1>{}</h1><p>{}</p>", xml(text), xml(below)),
        Block::Heading(text) => writeln!(out, "<h2>{}</h2>", xml(text)),
        Block::Label(text) => writeln!(out, "<h4>{}</h4>", xml(text)),
        Block::Step { number, title, when } => writeln!(
            out,
            "<h3 id=\"step-{number}\"><span class=\"n\">{number}</span><span class=\"t\">{}</span><span class=\"w\">{}</span></h3>",
            xml(title),
            xml(when)
        ),
        Block::Text(text) => writeln!(out, "<p>{}</p>", xml(text)),
        Block::Ticks(lines) => writeln!(out, "<ul class=\"ticks\">{}</ul>", items(lines, "li")),
        Block::Points(lines) => writeln!(out, "<ul>{}</ul>", items(lines, "li")),
        Block::Facts(facts) => {
            let pair = |(name, value): &(String, String)| format!("<dt>{}</dt><dd>{}</dd>", xml(name), xml(value));
            writeln!(out, "<dl>{}</dl>", facts.iter().map(pair).collect::<String>())
        }
        Block::Table(table) => {
            write_table(out, table);
            Ok(())
        }
        Block::Caution { strong, lines } => {
            let class = if *strong { "caution strong" } else { "caution" };
            writeln!(out, "<div class=\"{class}\">{}</div>", items(lines, "p"))
        }
        Block::Beside { picture, caption, share, blocks } => {
            out.push_str("<div class=\"beside\"><div>\n");
            blocks.iter().for_each(|b| write_block(out, sheet, b));
            let _ = write!(out, "</div><figure style=\"width:{:.0}%\">", share * 100.0);
            match picture {
                Picture::Png(path) => write_picture(out, sheet, path, caption),
                Picture::Drawing(drawing) => out.push_str(&drawing.svg(true, caption)),
            }
            writeln!(out, "<figcaption>{}</figcaption></figure></div>", xml(caption))
        }
        Block::Drawing { drawing, caption } => {
            let caption = xml(caption);
            writeln!(out, "<figure>{}<figcaption>{caption}</figcaption></figure>", drawing.svg(true, "Section"))
        }
        Block::NewPage => writeln!(out, "<div class=\"page\"></div>"),
    };
}

/// A picture shows its bytes where it comes first; later it refers to them, so that they are in the file once.
fn write_picture(out: &mut String, sheet: &Sheet, path: &str, caption: &str) {
    let Some(png) = sheet.pictures.get(path) else { return };
    let [w, h] = png_size(png).unwrap_or([3, 2]);
    let id = path.replace(['/', '.'], "-");
    let caption = xml(caption);
    let _ = write!(out, "<svg viewBox=\"0 0 {w} {h}\" role=\"img\"><title>{caption}</title>");
    let _ = if out.contains(&format!("id=\"{id}\"")) {
        write!(out, "<use href=\"#{id}\"/></svg>")
    } else {
        let data = base64(png);
        write!(out, "<image id=\"{id}\" width=\"{w}\" height=\"{h}\" href=\"data:image/png;base64,{data}\"/></svg>")
    };
}

fn items(lines: &[String], tag: &str) -> String {
    lines.iter().map(|l| format!("<{tag}>{}</{tag}>", xml(l))).collect()
}

fn write_table(out: &mut String, table: &Table) {
    let head: String = table.head.iter().map(|h| format!("<th>{}</th>", xml(h))).collect();
    let _ = write!(out, "<table><thead><tr>{head}</tr></thead><tbody>");
    for row in &table.rows {
        let cells: String = row.iter().map(write_cell).collect();
        let _ = writeln!(out, "<tr>{cells}</tr>");
    }
    out.push_str("</tbody></table>\n");
}

fn write_cell(cell: &Cell) -> String {
    if cell.to_fill {
        return "<td class=\"fill\"></td>".into();
    }
    let class = match cell.mark {
        Some(Mark::Good) => " class=\"good\"",
        Some(Mark::Look) => " class=\"look\"",
        Some(Mark::Bad) => " class=\"bad\"",
        None => "",
    };
    let text = xml(&cell.text);
    if cell.strong { format!("<td{class}><strong>{text}</strong></td>") } else { format!("<td{class}>{text}</td>") }
}

/// RFC 4648 §4.
pub(crate) fn base64(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let value = chunk.iter().fold(0u32, |v, b| v << 8 | u32::from(*b)) << (8 * (3 - chunk.len()));
        for k in 0..4 {
            let digit = DIGITS[(value >> (18 - 6 * k) & 63) as usize] as char;
            out.push(if k <= chunk.len() { digit } else { '=' });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648 §10.
    #[test]
    fn base64_matches_the_vectors_of_its_standard() {
        let cases = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (plain, coded) in cases {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn text_of_the_maker_cannot_become_markup() {
        let sheet = Sheet {
            title: "<b>&\"".into(),
            foot: String::new(),
            paper: Paper::A4,
            blocks: vec![Block::Text("<script>".into()), Block::Facts(vec![("a<".into(), "b&".into())])],
            pictures: Default::default(),
        };
        let html = String::from_utf8(write(&sheet)).unwrap();
        assert!(!html.contains("<script") && !html.contains("<b>") && html.contains("&lt;script&gt;"));
    }
}
