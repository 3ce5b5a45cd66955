//! Reference tables that travel with the program; each row names its source.

use serde::Deserialize;

/// The table of woods as text: Wood Handbook, FPL-GTR-190 (2010) and FPL-GTR-282 (2021).
pub const WOOD_CSV: &str = include_str!("tables/wood.csv");

/// A wood of the table: means of small clear specimens at 12 % moisture, not design values.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct BookWood {
    /// Common name; another common name may follow in brackets.
    pub common_name: String,
    /// Botanical name.
    pub botanical_name: String,
    /// Ovendry mass over volume at 12 %, relative to water.
    #[serde(rename = "specific_gravity_12pct")]
    pub specific_gravity: f64,
    /// Side hardness, N.
    #[serde(rename = "side_hardness_N")]
    pub side_hardness_n: Option<f64>,
    /// Modulus of rupture, kPa.
    #[serde(rename = "modulus_of_rupture_kPa")]
    pub modulus_of_rupture_kpa: Option<f64>,
    /// Modulus of elasticity, MPa.
    #[serde(rename = "modulus_of_elasticity_MPa")]
    pub modulus_of_elasticity_mpa: Option<f64>,
    /// Shear parallel to the grain, kPa.
    #[serde(rename = "shear_parallel_kPa")]
    pub shear_parallel_kpa: Option<f64>,
    /// Compression across the grain, kPa.
    #[serde(rename = "compression_perp_kPa")]
    pub compression_perp_kpa: Option<f64>,
    /// Radial shrinkage, green to ovendry, %.
    pub shrink_radial_pct: f64,
    /// Tangential shrinkage, %.
    pub shrink_tangential_pct: f64,
    /// Volumetric shrinkage, %.
    pub shrink_volumetric_pct: f64,
    /// Radial change per 1 % moisture, fraction.
    #[serde(rename = "coef_radial_CR")]
    pub coef_radial: f64,
    /// Tangential change per 1 % moisture, fraction.
    #[serde(rename = "coef_tangential_CT")]
    pub coef_tangential: f64,
    /// Tables it was read in; `T13-5` is Table 13-5.
    pub source: String,
    /// `opened` if every cell was read in the source, `from memory` if any was not.
    pub verified: String,
    /// The cells that were not.
    pub from_memory_cells: String,
    /// Ovendry mass over green volume.
    pub specific_gravity_green: f64,
    /// Remarks.
    pub notes: String,
}

/// Why a table is refused.
#[derive(Debug, thiserror::Error)]
pub enum TableError {
    /// A cell cannot be read.
    #[error("the table of woods cannot be read: {0}")]
    Cell(#[from] csv::Error),
    /// A row without a source.
    #[error("`{0}` has no source, or does not say whether it was verified: a figure without a source stays out")]
    NoSource(String),
}

/// All woods of the table.
///
/// # Errors
/// [`TableError`] if a row cannot be read or has no source.
pub fn woods() -> Result<Vec<BookWood>, TableError> {
    read(WOOD_CSV)
}

/// A wood by its common name, with or without the name in brackets, in any case of letters.
pub fn wood(name: &str) -> Option<BookWood> {
    let wanted = name.to_lowercase();
    let answers = |row: &BookWood| {
        let full = row.common_name.to_lowercase();
        let outer = full.split(" (").next().unwrap_or(&full).to_owned();
        let inner = full.split_once('(').map(|(_, rest)| rest.trim_end_matches(')').to_owned());
        full == wanted || outer == wanted || inner.is_some_and(|i| i == wanted)
    };
    woods().ok()?.into_iter().find(answers)
}

fn read(text: &str) -> Result<Vec<BookWood>, TableError> {
    let mut rows = Vec::new();
    for row in csv::Reader::from_reader(text.as_bytes()).into_deserialize() {
        let row: BookWood = row?;
        let marked = matches!(row.verified.as_str(), "opened" | "from memory");
        if row.source.trim().is_empty() || !marked {
            return Err(TableError::NoSource(row.common_name));
        }
        rows.push(row);
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_read_and_has_a_source() {
        let rows = woods().unwrap();
        assert_eq!(rows.len(), WOOD_CSV.lines().count() - 1);
        assert!(rows.iter().all(|r| (r.verified == "opened") == r.from_memory_cells.is_empty()));
    }

    #[test]
    fn a_row_without_source_is_refused() {
        let source = "GTR-282 T5-3b converted; GTR-190 T4-3; GTR-190 T13-5";
        let broken = WOOD_CSV.replacen(source, "", 1);
        assert!(matches!(read(&broken), Err(TableError::NoSource(name)) if name == "black walnut"));
        let unmarked = WOOD_CSV.replacen(",opened,", ",,", 1);
        assert!(matches!(read(&unmarked), Err(TableError::NoSource(_))));
        let garbled = WOOD_CSV.replacen("0.55", "heavy", 1);
        assert!(matches!(read(&garbled), Err(TableError::Cell(_))));
    }

    #[test]
    fn woods_are_found_by_either_name() {
        assert_eq!(wood("Sugar maple").map(|w| w.botanical_name), Some("Acer saccharum".to_owned()));
        assert_eq!(wood("black cherry").map(|w| w.coef_tangential), Some(0.00248));
        assert_eq!(wood("plastic"), None);
    }

    #[test]
    fn the_default_shelf_moves_as_the_table_says() {
        let shelf = crate::parse(crate::DEFAULT_SHELF, base::FileId(0)).0.unwrap();
        for mine in &shelf.woods {
            let book = wood(&mine.name).unwrap_or_else(|| panic!("{} is not in the table", mine.name));
            assert_eq!((mine.c_tangential, mine.c_radial), (book.coef_tangential, book.coef_radial), "{}", mine.name);
        }
    }
}
