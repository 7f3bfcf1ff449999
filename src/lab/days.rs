//! What a laboratory says of the days of a collection: `[days]` in `lab.toml`.
//!
//! Every key has a default. Those that count a cycle are common practice with
//! the sources named here, to be approved or changed by the laboratory.

use chrono::NaiveDate;

use crate::fields::Fields;

/// A laboratory's rules for the day of card 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DayRules {
    /// The most days that cards may lie packed before the first post; no limit
    /// where absent.
    pub longest_wait_days: Option<i64>,
    /// Whether a US federal holiday, on its own date, is no day for a card.
    pub no_cards_on_us_federal_holidays: bool,
    /// The last day on which cards of the stock in use may be posted; an order's
    /// own date goes before it.
    pub cards_expire: Option<NaiveDate>,
    /// Whole days between the day of card 1 and the first day of the next
    /// period: 7 is day 21 of 28.
    ///
    /// # Source
    ///
    /// Mid-luteal progesterone is taken 7 days before the next period, day 21 of
    /// 28 and day 28 of 35: summaries of UK practice (NICE CG156 is named in
    /// them and was not opened). That card 1, not the morning after it, stands
    /// on that day is common practice, no source.
    pub days_before_period: i64,
    /// Days by which the day of card 1 may miss the cycle's; no source was found
    /// for any other number than 0.
    pub cycle_tolerance_days: i64,
    /// The most days by which the shortest and the longest cycle of a regular
    /// cycle differ.
    ///
    /// # Source
    ///
    /// FIGO 2018 calls a variation of 7 to 9 days, by age, regular: from memory.
    /// The strictest of these.
    pub cycle_spread_days: i64,
}

impl Default for DayRules {
    fn default() -> Self {
        Self {
            longest_wait_days: None,
            no_cards_on_us_federal_holidays: false,
            cards_expire: None,
            days_before_period: 7,
            cycle_tolerance_days: 0,
            cycle_spread_days: 7,
        }
    }
}

/// Reads `[days]`.
pub(super) fn day_rules(fields: &Fields) -> DayRules {
    let usual = DayRules::default();
    let number = |key, range| fields.number(key, range).map(|number| number.value);
    let holidays = fields.choice("holidays", &[("us-federal", true), ("none", false)]);
    DayRules {
        longest_wait_days: number("longest_wait_days", 0..=30),
        no_cards_on_us_federal_holidays: holidays.is_some_and(|choice| choice.value),
        cards_expire: fields.date("cards_expire").map(|date| date.value),
        days_before_period: number("days_before_period", 1..=14)
            .unwrap_or(usual.days_before_period),
        cycle_tolerance_days: number("cycle_tolerance_days", 0..=3)
            .unwrap_or(usual.cycle_tolerance_days),
        cycle_spread_days: number("cycle_spread_days", 0..=9)
            .unwrap_or(usual.cycle_spread_days),
    }
}
