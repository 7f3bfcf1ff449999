//! Weights and drink amounts, exact until they are rounded down.
//!
//! Takes what an order says, gives whole quarter cups and whole millilitres.
//! No floating point: an allowance is rounded down, and a rounding error at a
//! quarter-cup edge would round it up.

use std::fmt;

use crate::fields::parse_thousandths;

/// Grams in a million pounds: one pound is 0.45359237 kg exactly (NIST Handbook
/// 44, Appendix C; from memory, agrees with PyPI `pint`).
const GRAMS_PER_MILLION_POUNDS: i128 = 453_592_370;

/// A US cup in units of 1e-7 mL: 236.5882365 mL (NIST Handbook 44, Appendix C:
/// a gallon of 231 cubic inches; from memory, agrees with PyPI `pint`).
const US_CUP_E7_ML: i128 = 2_365_882_365;

/// The unit a weight was given in, which is the unit it is printed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WeightUnit {
    Pound,
    Kilogram,
}

/// A body weight, as the order gives it, to a thousandth of its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Weight {
    thousandths: i64,
    unit: WeightUnit,
}

impl Weight {
    /// A weight of `thousandths` of one `unit`.
    pub const fn from_thousandths(thousandths: i64, unit: WeightUnit) -> Self {
        Self { thousandths, unit }
    }

    /// Reads `"150 lb"` or `"68.5 kg"`, with or without the space.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let (number, unit) = match (text.strip_suffix("lb"), text.strip_suffix("kg")) {
            (Some(number), _) => (number, WeightUnit::Pound),
            (None, Some(number)) => (number, WeightUnit::Kilogram),
            (None, None) => return None,
        };
        let thousandths = parse_thousandths(number.trim_end())?;
        (thousandths > 0).then_some(Self { thousandths, unit })
    }

    pub fn unit(self) -> WeightUnit {
        self.unit
    }

    /// The weight in its own unit, without trailing zeros.
    pub fn figure(self) -> String {
        let whole = self.thousandths / 1000;
        let part = format!("{:03}", self.thousandths % 1000);
        let part = part.trim_end_matches('0');
        if part.is_empty() { whole.to_string() } else { format!("{whole}.{part}") }
    }

    /// Whether the weight is at least `low` and at most `high` pounds.
    pub fn within_pounds(self, low: i64, high: i64) -> bool {
        let (value, per_pound) = self.ratio();
        value >= i128::from(low) * per_pound && value <= i128::from(high) * per_pound
    }

    /// The weight as a fraction of pounds: numerator and denominator.
    fn ratio(self) -> (i128, i128) {
        let thousandths = i128::from(self.thousandths);
        match self.unit {
            WeightUnit::Pound => (thousandths, 1000),
            WeightUnit::Kilogram => (thousandths * 1_000_000, GRAMS_PER_MILLION_POUNDS),
        }
    }

    /// Quarter cups allowed at `cups_per_100_lb` thousandths of a US cup for
    /// each 100 pounds, rounded down.
    pub fn allowance(self, thousandths_of_cup_per_100_lb: i64) -> Drink {
        let (value, per_pound) = self.ratio();
        let quarters = value * 4 * i128::from(thousandths_of_cup_per_100_lb)
            / (per_pound * 100 * 1000);
        Drink::from_quarter_cups(quarters as u32)
    }
}

impl fmt::Display for Weight {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let unit = match self.unit {
            WeightUnit::Pound => "lb",
            WeightUnit::Kilogram => "kg",
        };
        write!(f, "{} {unit}", self.figure())
    }
}

/// An amount to drink, in whole quarter US cups.
///
/// The millilitres are those of the quarter cups, rounded down to 10 mL, so the
/// two figures on the page are the same drink.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Drink {
    quarter_cups: u32,
}

impl Drink {
    pub const fn from_quarter_cups(quarter_cups: u32) -> Self {
        Self { quarter_cups }
    }

    pub fn quarter_cups(self) -> u32 {
        self.quarter_cups
    }

    /// Millilitres, rounded down to 10 mL.
    pub fn ml(self) -> u32 {
        let e7 = i128::from(self.quarter_cups) * US_CUP_E7_ML / 4;
        (e7 / 100_000_000 * 10) as u32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drink(weight: &str) -> (u32, u32) {
        let drink = Weight::parse(weight).unwrap().allowance(1000);
        (drink.quarter_cups(), drink.ml())
    }

    /// The rule, one US cup for each 100 lb rounded down, is common practice
    /// with no published source; the units are NIST's.
    #[test]
    fn the_allowance_rounds_down_to_a_quarter_cup_and_10_ml() {
        for (weight, quarters, ml) in [
            ("150 lb", 6, 350),
            ("149.999 lb", 5, 290),
            ("100 lb", 4, 230),
            ("99.9 lb", 3, 170),
            ("70 lb", 2, 110),
            ("400 lb", 16, 940),
            // 220 lb is 99.790 kg and 60 kg is 132.277 lb (NIST pound).
            ("99.790 kg", 8, 470),
            ("60 kg", 5, 290),
            ("68.038 kg", 5, 290),
            ("68.039 kg", 6, 350),
        ] {
            assert_eq!(drink(weight), (quarters, ml), "{weight}");
        }
    }

    /// NIST Handbook 44, Appendix C: 8 US fluid ounces are 236.588 mL, 12 are
    /// 354.882, 16 are 473.176 and 24 are 709.765.
    #[test]
    fn cups_become_millilitres_by_the_us_customary_cup() {
        for (ounces, ml) in [(8, 230), (12, 350), (16, 470), (24, 700)] {
            assert_eq!(Drink::from_quarter_cups(ounces / 2).ml(), ml, "{ounces} fl oz");
        }
    }

    #[test]
    fn weights_need_a_number_and_a_unit() {
        for bad in
            ["150", "150 l b", "150 kglb", "-3 lb", "0 kg", "1e3 lb", "150 st", "", "lb"]
        {
            assert_eq!(Weight::parse(bad), None, "{bad}");
        }
        assert_eq!(Weight::parse("68.50 kg").unwrap().to_string(), "68.5 kg");
        assert_eq!(Weight::parse("68.5kg"), Weight::parse("68.5 kg"));
        assert_eq!(Weight::parse("150.0 lb").unwrap().to_string(), "150 lb");
    }
}
