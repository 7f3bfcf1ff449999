//! Sends the files of a run to their printers, if that was asked for.

use std::io::{BufRead, IsTerminal};
use std::sync::atomic::Ordering;

use super::{ASKING, Room, STOP, tell};
use crate::command::{Outcome, complain, counted, note};
use crate::fault::Fault;
use crate::proof::FileKind;
use crate::run::journal::{Ended, FileRecord, PartRecord, Sent};
use crate::run::printing::{Job, Printers, media, paper_media};
use crate::typeset::Sides;

/// A file and how it is printed.
pub(super) struct Sending {
    pub job: Job,
    record: FileRecord,
    /// The part it is of.
    part: PartRecord,
    kind: FileKind,
    /// What of it was made again since.
    pub void: Vec<String>,
    /// The stock it is printed on, if it is labels.
    stock: Option<String>,
    /// What it takes, in words.
    takes: String,
}

/// All files of a run in the order in which they are printed.
///
/// # Errors
///
/// What stands in the way of the ledger, which knows what is void.
pub(super) fn jobs(
    room: &Room,
    parts: &[PartRecord],
    ended: &Ended,
) -> Result<Vec<Sending>, Fault> {
    let known = room.list.lab.as_ref().map(|lab| &lab.lab.printers);
    let asked = room.args.print.as_ref();
    let queue = |name: &String| {
        known.map_or(name.as_str(), |known| Printers::queue(name, known)).to_owned()
    };
    let mut jobs = Vec::new();
    for ((part, list), packing) in parts.iter().zip(&room.list.parts).zip(&ended.packing)
    {
        if part.kits.is_empty() {
            continue;
        }
        let job = |kind, record: &FileRecord, queue, media, sides, takes| {
            Ok(Sending {
                job: Job {
                    queue,
                    title: format!("{} {}", room.begun.run, record.name),
                    media,
                    sides,
                    file: record.name.clone(),
                },
                record: record.clone(),
                part: part.clone(),
                kind,
                void: void_in(room, part, kind)?,
                stock: (kind == FileKind::Labels).then(|| part.stock.clone()),
                takes,
            })
        };
        let paper = asked.map(|print| queue(&print.paper));
        let labels = asked.map(|print| queue(&print.labels));
        let size = paper_media(list.paper).to_owned();
        let stock = &list.stock;
        let label = (stock.label_width.to_mm(), stock.label_height.to_mm());
        jobs.push(job(
            FileKind::Paper,
            &part.paper,
            paper.clone(),
            size.clone(),
            Sides::Both,
            counted(part.leaves, "leaf", "leaves"),
        )?);
        jobs.push(job(
            FileKind::Labels,
            &part.labels,
            labels,
            media(stock.medium, label),
            Sides::One,
            format!("{} of {}", tell::sheets(stock, part.sheets), part.stock),
        )?);
        let takes = "the packing slips".to_owned();
        jobs.push(job(FileKind::Packing, packing, paper, size, Sides::One, takes)?);
    }
    Ok(jobs)
}

/// What to do instead of sending a file in which something is void.
pub(super) const BY_HAND: &str = "print it by hand, and take what is void out of it; the \
                                  manifest says where that is";

/// What is void in a part's file of one kind.
fn void_in(room: &Room, part: &PartRecord, kind: FileKind) -> Result<Vec<String>, Fault> {
    room.book.as_ref().map_or(Ok(Vec::new()), |book| book.void(part, kind))
}

impl Sending {
    /// The command that prints it, or why there is none to be given again.
    fn by_hand(&self, room: &Room) -> String {
        if self.void.is_empty() {
            return self.job.command_line(&room.args.out);
        }
        format!("{BY_HAND}: {}", self.void.join(", "))
    }
}

/// Prints the files that were not printed yet, after asking.
pub(super) fn send(room: &mut Room, jobs: &[Sending]) -> Outcome {
    if room.args.print.is_none() || jobs.is_empty() {
        return Outcome::Done;
    }
    let mut outcome = Outcome::Done;
    let mut left = Vec::new();
    for sending in jobs {
        let sent = match room.journal.sent(&sending.job.file) {
            Ok(sent) => sent,
            Err(fault) => return complain(&[fault]),
        };
        match sent {
            Sent::No => left.push(sending),
            Sent::Yes => note(&format!(
                "{} was sent before; if it did not come out: {}\n",
                sending.job.file,
                sending.by_hand(room)
            )),
            Sent::Perhaps => {
                outcome = Outcome::Wrong;
                note(&format!(
                    "{} was being sent when the program ended: look in the printer's \
                     queue, and if it is not there: {}\n",
                    sending.job.file,
                    sending.by_hand(room)
                ));
            }
        }
    }
    if left.is_empty() {
        return outcome;
    }
    outcome.max(match send_all(room, &left) {
        Ok(outcome) => outcome,
        Err(faults) => complain(&faults),
    })
}

fn send_all(room: &mut Room, jobs: &[&Sending]) -> Result<Outcome, Vec<Fault>> {
    let mut stocks: Vec<&str> =
        jobs.iter().filter_map(|job| job.stock.as_deref()).collect();
    stocks.dedup();
    if room.args.yes && stocks.len() > 1 {
        return Err(vec![Fault::new(
            format!("the labels are of several stocks: {}", stocks.join(", ")),
            "leave --yes out, to be asked at each change of stock; or make a run for each",
        )]);
    }
    let mut loaded = stocks.first().copied();
    let mut outcome = Outcome::Done;
    if !room.args.yes && !asked(jobs, loaded).map_err(|fault| vec![fault])? {
        note("nothing was printed\n");
        return Ok(Outcome::Done);
    }
    for sending in jobs {
        if let Some(stock) = sending.stock.as_deref()
            && loaded != Some(stock)
        {
            loaded = Some(stock);
            if !asked(&[sending], loaded).map_err(|fault| vec![fault])? {
                note(&format!(
                    "{} and what follows were not printed\n",
                    sending.job.file
                ));
                return Ok(outcome);
            }
        }
        if STOP.load(Ordering::Relaxed) {
            note(&format!("stopped before {}\n", sending.job.file));
            return Ok(Outcome::Stopped);
        }
        // Others may have been made again while the first were printed. What is void
        // in one file keeps no other from its printer.
        match void(room, sending).map_err(|fault| vec![fault])? {
            Some(fault) => outcome = complain(&[fault]),
            None => send_one(room, sending)?,
        }
    }
    Ok(outcome)
}

/// Why a file is not sent in which something is void.
fn void(room: &Room, sending: &Sending) -> Result<Option<Fault>, Fault> {
    let void = void_in(room, &sending.part, sending.kind)?;
    Ok((!void.is_empty()).then(|| {
        Fault::new(
            format!(
                "{} holds what was made again since: {}",
                sending.job.file,
                void.join(", ")
            ),
            BY_HAND,
        )
    }))
}

fn send_one(room: &mut Room, sending: &Sending) -> Result<(), Vec<Fault>> {
    let one = |fault| vec![fault];
    let file = &sending.job.file;
    // It may have been replaced while the question waited for its answer.
    room.journal.must_be(&sending.record).map_err(one)?;
    // First, so that power lost right after the printing prints nothing twice.
    room.journal.set_sent(file, Sent::Perhaps).map_err(one)?;
    if let Err(failure) = sending.job.send(&room.args.out) {
        if failure.was_refused {
            room.journal.set_sent(file, Sent::No).map_err(one)?;
        }
        return Err(vec![failure.fault]);
    }
    // `lp` has read it by now. What it read is not known if it is another since.
    room.journal.must_be(&sending.record).map_err(|fault| {
        vec![Fault {
            what: format!("{}, and was just sent", fault.what),
            help: "look in the printer's queue and take it out: it may be of another kit"
                .into(),
            ..fault
        }]
    })?;
    room.journal.set_sent(file, Sent::Yes).map_err(one)?;
    let queue = sending.job.queue.as_deref().unwrap_or_default();
    note(&format!("{file} is at {queue}\n"));
    match &mut room.book {
        Some(book) => book.record_printed(queue, &sending.record),
        None => Ok(()),
    }
}

fn asked(jobs: &[&Sending], stock: Option<&str>) -> Result<bool, Fault> {
    if !std::io::stdin().is_terminal() {
        return Err(Fault::new(
            "printing is asked about, and there is no terminal to answer at",
            "add --yes once the right paper and labels are loaded",
        ));
    }
    for sending in jobs {
        note(&format!(
            "  {:<18} {} on {}\n",
            sending.job.file,
            sending.takes,
            sending.job.queue.as_deref().unwrap_or("the usual printer")
        ));
    }
    if let Some(stock) = stock {
        let cell =
            jobs.iter().find(|job| job.stock.is_some()).map(|job| job.part.start_at);
        note(&format!(
            "load {stock} for the labels, the first from cell {} on\n",
            cell.unwrap_or(1)
        ));
    }
    note("print now? [y/N] ");
    let mut answer = String::new();
    ASKING.store(true, Ordering::Relaxed);
    let _ = std::io::stdin().lock().read_line(&mut answer);
    ASKING.store(false, Ordering::Relaxed);
    Ok(matches!(answer.trim(), "y" | "Y" | "yes") && !STOP.load(Ordering::Relaxed))
}
