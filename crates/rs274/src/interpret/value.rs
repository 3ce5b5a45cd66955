//! Values in a program: numbers, parameters, expressions and functions (NISTIR 6556 §3.3.2).

use std::collections::BTreeMap;

/// Parameters the program has set, by number.
pub(super) type Parameters = BTreeMap<u32, f64>;

/// How far a value that must be whole may be off (§3.3.2.1).
const WHOLE: f64 = 0.0001;
/// Parameters from here on are kept by the machine: homes, work offsets.
const FIRST_OF_THE_MACHINE: u32 = 5001;

/// Powers of ten for numbers of up to 15 digits: those, and the digits as a whole number, are exact in 53 bits.
const EXACT: [f64; 16] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

/// A place in the code of one line; blanks and comments are gone, letters are upper case.
pub(super) struct Cursor<'a> {
    pub(super) code: &'a [u8],
    pub(super) at: usize,
    pub(super) parameters: &'a Parameters,
}

/// A whole number from a value that may be off a little.
pub(super) fn whole(value: f64, what: &str) -> Result<u32, String> {
    let near = value.round();
    if (value - near).abs() > WHOLE || !(0.0..=1.0e6).contains(&near) {
        return Err(format!("{what} must be a whole number from 0, and is {value}"));
    }
    Ok(near as u32)
}

impl Cursor<'_> {
    pub(super) fn peek(&self) -> Option<u8> {
        self.code.get(self.at).copied()
    }

    pub(super) fn take(&mut self, wanted: &str) -> bool {
        let found = self.code[self.at..].starts_with(wanted.as_bytes());
        if found {
            self.at += wanted.len();
        }
        found
    }

    /// A number, parameter, expression or function; always finite.
    pub(super) fn value(&mut self) -> Result<f64, String> {
        let value = match self.peek() {
            Some(b'[') => self.expression()?,
            Some(b'#') => self.parameter()?,
            Some(b'A'..=b'Z') => self.function()?,
            Some(_) => self.number()?,
            None => return Err("a number is missing at the end of the line".into()),
        };
        if value.is_finite() { Ok(value) } else { Err("a value grew beyond all numbers".into()) }
    }

    fn number(&mut self) -> Result<f64, String> {
        let start = self.at;
        if matches!(self.peek(), Some(b'+' | b'-')) {
            self.at += 1;
        }
        let (mut digits, mut points, mut decimals, mut mantissa) = (0_usize, 0, 0, 0_u64);
        while let Some(c @ (b'0'..=b'9' | b'.')) = self.peek() {
            if c == b'.' {
                points += 1;
            } else {
                digits += 1;
                decimals += points;
                mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(c - b'0'));
            }
            self.at += 1;
        }
        let text = &self.code[start..self.at];
        if digits == 0 || points > 1 {
            let end = (self.at + 1).min(self.code.len());
            return Err(format!("expected a number, found `{}`", String::from_utf8_lossy(&self.code[start..end])));
        }
        if digits < EXACT.len() {
            // Both are exact, so that the quotient is the number nearest to the text.
            let value = mantissa as f64 / EXACT[decimals];
            return Ok(if text[0] == b'-' { -value } else { value });
        }
        let text = String::from_utf8_lossy(text);
        text.parse().map_err(|_| format!("`{text}` is not a number"))
    }

    /// The number of a parameter after `#`.
    pub(super) fn parameter_number(&mut self) -> Result<u32, String> {
        let number = whole(self.value()?, "the number of a parameter")?;
        if (1..=5399).contains(&number) { Ok(number) } else { Err(format!("#{number}: parameters run from 1 to 5399")) }
    }

    fn parameter(&mut self) -> Result<f64, String> {
        self.at += 1;
        let number = self.parameter_number()?;
        let unknown = || format!("parameter #{number} is used before this program has set it");
        self.parameters.get(&number).copied().ok_or_else(unknown)
    }

    fn function(&mut self) -> Result<f64, String> {
        const NAMES: [&str; 13] =
            ["ABS", "ACOS", "ASIN", "ATAN", "COS", "EXP", "FIX", "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN"];
        let Some(name) = NAMES.iter().find(|name| self.code[self.at..].starts_with(name.as_bytes())) else {
            return Err(format!("expected a number, found `{}`", self.code[self.at] as char));
        };
        self.at += name.len();
        if self.peek() != Some(b'[') {
            return Err(format!("`{name}` must be followed by `[`"));
        }
        let x = self.expression()?;
        if *name == "ATAN" {
            if !self.take("/") || self.peek() != Some(b'[') {
                return Err("`ATAN` takes two values: ATAN[y]/[x]".into());
            }
            return Ok(x.atan2(self.expression()?).to_degrees());
        }
        function_of(name, x)
    }

    fn expression(&mut self) -> Result<f64, String> {
        self.at += 1;
        let value = self.operands(0)?;
        if self.take("]") { Ok(value) } else { Err("a `[` is not closed by `]`".into()) }
    }

    /// Operands joined by operators of at least `rank`; equal ranks run from left to right.
    fn operands(&mut self, rank: u8) -> Result<f64, String> {
        let mut left = self.value()?;
        while let Some((name, its_rank)) = self.operator(rank) {
            self.at += name.len();
            let right = self.operands(its_rank + 1)?;
            left = combine(name, left, right)?;
        }
        Ok(left)
    }

    fn operator(&self, least_rank: u8) -> Option<(&'static str, u8)> {
        const OPERATORS: [(&str, u8); 9] =
            [("**", 2), ("*", 1), ("/", 1), ("MOD", 1), ("+", 0), ("-", 0), ("OR", 0), ("XOR", 0), ("AND", 0)];
        let found = OPERATORS.into_iter().find(|(name, _)| self.code[self.at..].starts_with(name.as_bytes()));
        found.filter(|(_, rank)| *rank >= least_rank)
    }
}

fn function_of(name: &str, x: f64) -> Result<f64, String> {
    let outside = || Err(format!("`{name}` of {x} does not exist"));
    Ok(match name {
        "ABS" => x.abs(),
        "ACOS" | "ASIN" if x.abs() > 1.0 => return outside(),
        "ACOS" => x.acos().to_degrees(),
        "ASIN" => x.asin().to_degrees(),
        "COS" => x.to_radians().cos(),
        "EXP" => x.exp(),
        "FIX" => x.floor(),
        "FUP" => x.ceil(),
        "LN" if x <= 0.0 => return outside(),
        "LN" => x.ln(),
        "ROUND" => x.round(),
        "SIN" => x.to_radians().sin(),
        "SQRT" if x < 0.0 => return outside(),
        "SQRT" => x.sqrt(),
        _ => x.to_radians().tan(),
    })
}

fn combine(name: &str, left: f64, right: f64) -> Result<f64, String> {
    let truth = |yes: bool| f64::from(u8::from(yes));
    Ok(match name {
        "**" if left < 0.0 && right.fract() != 0.0 => {
            return Err(format!("{left} to the power {right} does not exist"));
        }
        "**" => left.powf(right),
        "*" => left * right,
        "/" | "MOD" if right == 0.0 => return Err("division by 0".into()),
        "/" => left / right,
        // Never below 0, not even as −0, which ATAN would tell from 0.
        "MOD" => left.rem_euclid(right) + 0.0,
        "+" => left + right,
        "-" => left - right,
        "OR" => truth(left != 0.0 || right != 0.0),
        "XOR" => truth((left != 0.0) != (right != 0.0)),
        _ => truth(left != 0.0 && right != 0.0),
    })
}

/// Whether a program may set this parameter.
pub(super) fn may_set(number: u32) -> Result<(), String> {
    if number < FIRST_OF_THE_MACHINE {
        return Ok(());
    }
    Err(format!("parameter #{number} belongs to the machine (homes and work offsets); setting it is refused"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(code: &str) -> Result<f64, String> {
        let parameters = Parameters::from([(1, 2.0), (2, 1.0)]);
        let mut cursor = Cursor { code: code.as_bytes(), at: 0, parameters: &parameters };
        let value = cursor.value()?;
        if cursor.at == code.len() { Ok(value) } else { Err(format!("rest from {}", cursor.at)) }
    }

    #[test]
    fn values_agree_with_the_report_and_with_arithmetic() {
        let cases = [
            ("[2.0/3*1.5-5.5/11.0]", 0.5), // NISTIR 6556 §3.3.2.3
            ("ASIN[0.5]", 30.0),           // table 10
            ("FIX[-2.8]", -3.0),           // §3.3.2.4
            ("FUP[-2.8]", -2.0),
            ("FIX[2.8]", 2.0),
            ("FUP[2.8]", 3.0),
            ("[2**3**2]", 64.0), // equal ranks from left to right
            ("[2+3*4]", 14.0),
            ("[10-4-3]", 3.0),
            ("[[10-4]*3]", 18.0),
            ("[-7MOD3]", 2.0),
            ("[1AND0OR1]", 1.0),
            ("[1XOR1]", 0.0),
            ("ATAN[1]/[-1]", 135.0),
            ("##2", 2.0),
            ("+.5", 0.5),
            ("-003.50", -3.5),
            ("123456789.012345678901", 123_456_789.012_345_67),
        ];
        for (code, wanted) in cases {
            assert!((of(code).unwrap() - wanted).abs() < 1e-12, "{code}: {:?}", of(code));
        }
    }

    #[test]
    fn impossible_values_are_refused() {
        for code in ["", "-", ".", "1.2.3", "[1/0]", "[1", "SQRT[-1]", "LN[0]", "ACOS[1.1]", "#3", "#0", "#[1.5]"] {
            assert!(of(code).is_err(), "{code}");
        }
        assert!(of("[[0-8]**0.5]").is_err() && of("EXP[1000]").is_err() && of("ATAN[1]").is_err());
    }
}
