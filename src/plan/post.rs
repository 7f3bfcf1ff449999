//! The first day with post.

use chrono::{Datelike, Days, NaiveDate, NaiveTime, Timelike, Weekday};

use super::{Finding, Level};
use crate::clock::Moment;
use crate::lab::Mail;

/// The eleven US federal holidays of `year` on their own dates, not on the days
/// on which offices observe them.
///
/// # Source
///
/// 5 U.S.C. 6103(a). The days "observed" under 6103(b) are for pay and leave
/// and are not days without post.
pub fn us_federal_holidays(year: i32) -> Vec<NaiveDate> {
    let fixed = |month, day| NaiveDate::from_ymd_opt(year, month, day);
    let nth =
        |month, weekday, n| NaiveDate::from_weekday_of_month_opt(year, month, weekday, n);
    let last_monday_of_may = nth(5, Weekday::Mon, 5).or_else(|| nth(5, Weekday::Mon, 4));
    [
        fixed(1, 1),
        nth(1, Weekday::Mon, 3),
        nth(2, Weekday::Mon, 3),
        last_monday_of_may,
        fixed(6, 19),
        fixed(7, 4),
        nth(9, Weekday::Mon, 1),
        nth(10, Weekday::Mon, 2),
        fixed(11, 11),
        nth(11, Weekday::Thu, 4),
        fixed(12, 25),
    ]
    .into_iter()
    .flatten()
    .collect()
}

pub fn is_holiday(date: NaiveDate) -> bool {
    us_federal_holidays(date.year()).contains(&date)
}

/// Whether there is no post on `date`: Sundays, holidays, the Monday after a
/// holiday on a Sunday, and the laboratory's own days.
///
/// No primary text of the post was found for the Monday: our reading.
fn without_post(date: NaiveDate, mail: &Mail) -> bool {
    let sunday = date.weekday() == Weekday::Sun;
    let after_sunday_holiday =
        date.weekday() == Weekday::Mon && date.pred_opt().is_some_and(is_holiday);
    let holiday = mail.us_federal_holidays && (is_holiday(date) || after_sunday_holiday);
    sunday || holiday || mail.closed.contains(&date)
}

/// From this hour on the day's post is taken to have gone. Common practice, no source.
const LAST_POST: u32 = 17;

/// When on the day of post a patient who packs at `pack_at` is reminded of it: at the
/// same hour, when they are up, or at midday if the post has gone by then.
pub fn reminder(pack_at: Moment) -> NaiveTime {
    let midday = NaiveTime::from_hms_opt(12, 0, 0).unwrap_or_default();
    if pack_at.hour() < LAST_POST { pack_at.time() } else { midday }
}

/// The day on which a kit that is packed at `pack_at` can be posted, if there is post.
pub(super) fn earliest(pack_at: Moment) -> NaiveDate {
    let has_gone = pack_at.hour() >= LAST_POST;
    pack_at.date_naive() + Days::new(has_gone.into())
}

/// The first day with post from `earliest` on.
pub(super) fn first_post(
    earliest: NaiveDate,
    mail: &Mail,
    findings: &mut Vec<Finding>,
) -> NaiveDate {
    let date = earliest
        .iter_days()
        .take(366)
        .find(|date| !without_post(*date, mail))
        .unwrap_or(earliest);
    let next = date + Days::new(1);
    if mail.us_federal_holidays && date.weekday() == Weekday::Fri && is_holiday(next) {
        findings.push(Finding::new(
            Level::Warning,
            "post-check",
            format!(
                "{date} is the Friday before a holiday on Saturday {next}: \
                 check locally that there is post"
            ),
        ));
    }
    date
}
