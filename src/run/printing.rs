//! The command lines that print a run, and running them.
//!
//! `lp` is that of CUPS; `print-scaling`, `sides` and `media` are IPP job
//! attributes (PWG 5100.13 and RFC 8011, names from memory).

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::Path;
use std::process::Command;

use crate::fault::{Fault, shell_word, visible};
use crate::lab::Printer;
use crate::order::Paper;
use crate::stock::Medium;
use crate::typeset::Sides;

/// The two trays.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Printers {
    /// Names in `lab.toml`, or of queues.
    pub paper: String,
    pub labels: String,
}

const ONE_QUEUE: &str = "one queue would print labels on paper";
const NAME_TWO: &str = "name a queue for each tray";

impl std::str::FromStr for Printers {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let usage = || "name both printers: PAPER=front,LABELS=back".to_owned();
        let (mut paper, mut labels) = (None, None);
        for pair in text.split(',') {
            let (tray, name) = pair.split_once('=').ok_or_else(usage)?;
            let name = name.trim();
            // A name that begins with a hyphen would be an option to `lp`.
            if name.is_empty() || name.starts_with('-') {
                return Err(usage());
            }
            let queue = match tray.trim().to_lowercase().as_str() {
                "paper" => &mut paper,
                "labels" => &mut labels,
                _ => return Err(usage()),
            };
            if queue.replace(name.to_owned()).is_some() {
                return Err(format!("one tray stands there twice: {}", usage()));
            }
        }
        let (paper, labels) = (paper.ok_or_else(usage)?, labels.ok_or_else(usage)?);
        if paper == labels {
            return Err(format!("{ONE_QUEUE}: {NAME_TWO}"));
        }
        Ok(Self { paper, labels })
    }
}

impl Printers {
    /// The queue of a printer: the laboratory's own name for it, or the name as it
    /// stands.
    pub fn queue<'a>(name: &'a str, known: &'a BTreeMap<String, Printer>) -> &'a str {
        known.get(name).map_or(name, |printer| printer.queue.trim())
    }

    /// Compares what the names stand for, which only the laboratory's file says.
    ///
    /// # Errors
    ///
    /// A fault if both go to one queue.
    pub fn check(&self, known: &BTreeMap<String, Printer>) -> Result<(), Fault> {
        let paper = Self::queue(&self.paper, known);
        if !is_same_queue(paper, Self::queue(&self.labels, known)) {
            return Ok(());
        }
        Err(Fault::new(
            format!(
                "{ONE_QUEUE}: `{}` and `{}` of --print are both the queue `{}`",
                visible(&self.paper),
                visible(&self.labels),
                visible(paper)
            ),
            format!(
                "{NAME_TWO}; `queue` under [printers] in lab.toml says which is whose"
            ),
        ))
    }
}

/// The printer that `name` stands for, its own name or that of its queue; `None` for a
/// queue of which the laboratory's file says nothing.
///
/// # Errors
///
/// A fault if several printers have that queue: they can be measured differently.
pub fn named<'a>(
    name: &str,
    known: &'a BTreeMap<String, Printer>,
) -> Result<Option<&'a Printer>, Fault> {
    if let Some(printer) = known.get(name) {
        return Ok(Some(printer));
    }
    let of_queue: Vec<(&String, &Printer)> =
        known.iter().filter(|(_, p)| is_same_queue(&p.queue, name)).collect();
    match of_queue[..] {
        [] => Ok(None),
        [(_, printer)] => Ok(Some(printer)),
        _ => {
            let names: Vec<&str> =
                of_queue.iter().map(|(name, _)| name.as_str()).collect();
            Err(Fault::new(
                format!(
                    "the queue `{}` is that of several printers in lab.toml: {}",
                    visible(name),
                    visible(&names.join(", "))
                ),
                format!("name the printer that is meant, such as LABELS={}", names[0]),
            ))
        }
    }
}

/// CUPS knows its queues in capital and small letters alike (from memory).
fn is_same_queue(one: &str, other: &str) -> bool {
    one.trim().eq_ignore_ascii_case(other.trim())
}

/// One file for one printer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job {
    /// Queue; absent where nobody named one.
    pub queue: Option<String>,
    pub title: String,
    pub media: String,
    pub sides: Sides,
    pub file: String,
}

impl Job {
    /// The arguments of `lp` that print it at 100 %.
    fn arguments(&self, folder: &Path) -> Vec<OsString> {
        let sides = match self.sides {
            Sides::Both => "two-sided-long-edge",
            Sides::One => "one-sided",
        };
        let mut words = Vec::new();
        if let Some(queue) = &self.queue {
            words.extend(["-d".to_owned(), queue.clone()]);
        }
        words.extend(["-t".to_owned(), self.title.clone()]);
        for option in [
            "print-scaling=none".to_owned(),
            format!("sides={sides}"),
            format!("media={}", self.media),
        ] {
            words.extend(["-o".to_owned(), option]);
        }
        words.push("--".to_owned());
        let mut arguments: Vec<OsString> =
            words.into_iter().map(OsString::from).collect();
        // A name need not be text.
        arguments.push(folder.join(&self.file).into_os_string());
        arguments
    }

    /// The command as a shell takes it.
    pub fn command_line(&self, folder: &Path) -> String {
        let arguments = self.arguments(folder);
        let words = std::iter::once(Cow::Borrowed("lp"))
            .chain(arguments.iter().map(|word| word.to_string_lossy()));
        words.map(|word| shell_word(&word)).collect::<Vec<_>>().join(" ")
    }

    /// Sends the file to its printer.
    ///
    /// # Errors
    ///
    /// A fault with what `lp` said.
    pub fn send(&self, folder: &Path) -> Result<(), Failure> {
        let failed = |why: String| {
            Fault::new(
                format!("{} was not printed: {why}", self.file),
                format!(
                    "look whether it is in the printer's queue; --resume sends what was not \
                     sent; by hand, and then not with --resume, too: {}",
                    self.command_line(folder)
                ),
            )
        };
        let output = Command::new("lp").args(self.arguments(folder)).output().map_err(
            |error| {
                let fault = failed(format!("cannot run lp: {error}"));
                Failure { fault, was_refused: true }
            },
        )?;
        if output.status.success() {
            return Ok(());
        }
        let said = String::from_utf8_lossy(&output.stderr).trim().to_owned();
        let fault =
            failed(if said.is_empty() { output.status.to_string() } else { said });
        // One that was killed may have handed the file over before.
        Err(Failure { fault, was_refused: output.status.code().is_some() })
    }
}

/// Why a file was not sent.
pub struct Failure {
    pub fault: Fault,
    /// The printer does not have it for certain, so it can be sent again.
    pub was_refused: bool,
}

/// The name of a medium in IPP.
///
/// # Source
///
/// PWG 5101.1, media standardized names (from memory); a roll's is a custom size.
pub fn media(medium: Medium, label: (f64, f64)) -> String {
    match medium {
        Medium::Sheet(paper) => paper_media(paper).to_owned(),
        Medium::Roll => format!("custom_label_{}x{}mm", label.0, label.1),
    }
}

pub fn paper_media(paper: Paper) -> &'static str {
    match paper {
        Paper::Letter => "na_letter_8.5x11in",
        Paper::A4 => "iso_a4_210x297mm",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_prints_at_full_size_on_the_right_sides() {
        let job = Job {
            queue: Some("front desk".into()),
            title: "run 1, paper".into(),
            media: paper_media(Paper::Letter).into(),
            sides: Sides::Both,
            file: "paper.pdf".into(),
        };
        assert_eq!(
            job.command_line(Path::new("out of/today")),
            "lp -d 'front desk' -t 'run 1, paper' -o print-scaling=none \
             -o sides=two-sided-long-edge -o media=na_letter_8.5x11in \
             -- 'out of/today/paper.pdf'"
        );
    }

    #[test]
    fn both_printers_are_named() {
        let printers: Printers = "PAPER=front,labels=back".parse().unwrap();
        assert_eq!(
            (printers.paper.as_str(), printers.labels.as_str()),
            ("front", "back")
        );
        for wrong in [
            "PAPER=front",
            "front",
            "PAPER=,LABELS=x",
            "PAPER=x,LABELS=y,labels=z",
            "PAPER=-x,LABELS=y",
            "",
            "PAPER=x,LABELS=x",
            "PAPER= x,LABELS=x ",
            "PAPER= ,LABELS=x",
            "PAPER= -x,LABELS=y",
        ] {
            assert!(wrong.parse::<Printers>().is_err(), "{wrong}");
        }
    }
}
