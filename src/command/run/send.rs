//! Sends the files of a run to their printers, if that was asked for.

use std::io::{BufRead, IsTerminal, Write};

use super::Room;
use crate::command::{Outcome, complain, counted};
use crate::fault::Fault;
use crate::run::journal::{Ended, FileRecord, PartRecord};
use crate::run::printing::{Job, Printers, media, paper_media};
use crate::typeset::Sides;

/// A file and how it is printed.
pub(super) struct Sending {
    pub job: Job,
    record: FileRecord,
    /// What it takes, in words.
    takes: String,
}

/// All files of a run in the order in which they are printed.
pub(super) fn jobs(room: &Room, parts: &[PartRecord], ended: &Ended) -> Vec<Sending> {
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
        let job = |record: &FileRecord, queue, media, sides, takes| Sending {
            job: Job {
                queue,
                title: format!("{} {}", room.begun.run, record.name),
                media,
                sides,
                file: record.name.clone(),
            },
            record: record.clone(),
            takes,
        };
        let paper = asked.map(|print| queue(&print.paper));
        let labels = asked.map(|print| queue(&print.labels));
        let size = paper_media(list.paper).to_owned();
        let stock = &list.stock;
        let label = (stock.label_width.to_mm(), stock.label_height.to_mm());
        jobs.push(job(
            &part.paper,
            paper.clone(),
            size.clone(),
            Sides::Both,
            counted(part.leaves, "leaf", "leaves"),
        ));
        jobs.push(job(
            &part.labels,
            labels,
            media(stock.medium, label),
            Sides::One,
            format!("{} of {}", counted(part.sheets, "sheet", "sheets"), part.stock),
        ));
        jobs.push(job(packing, paper, size, Sides::One, "the packing slips".into()));
    }
    jobs
}

/// Prints the files that were not printed yet, after asking.
pub(super) fn send(room: &mut Room, jobs: &[Sending]) -> Outcome {
    if room.args.print.is_none() || jobs.is_empty() {
        return Outcome::Done;
    }
    let (sent, left): (Vec<_>, Vec<_>) =
        jobs.iter().partition(|sending| room.journal.was_sent(&sending.job.file));
    for sending in sent {
        anstream::eprintln!(
            "{} was sent to a printer before; if it did not come out: {}",
            sending.job.file,
            sending.job.command_line(&room.args.out)
        );
    }
    if left.is_empty() {
        return Outcome::Done;
    }
    if !room.args.yes {
        match asked(&left) {
            Ok(true) => {}
            Ok(false) => {
                anstream::eprintln!("nothing was printed");
                return Outcome::Done;
            }
            Err(fault) => return complain(&[fault]),
        }
    }
    for sending in left {
        if let Err(faults) = send_one(room, sending) {
            return complain(&faults);
        }
    }
    Outcome::Done
}

fn send_one(room: &mut Room, sending: &Sending) -> Result<(), Vec<Fault>> {
    let one = |fault| vec![fault];
    // First, so that power lost right after the printing prints nothing twice.
    room.journal.sending(&sending.job.file).map_err(one)?;
    sending.job.send(&room.args.out).map_err(one)?;
    let queue = sending.job.queue.as_deref().unwrap_or_default();
    anstream::eprintln!("{} is at {queue}", sending.job.file);
    match &mut room.book {
        Some(book) => book.record_printed(queue, &sending.record),
        None => Ok(()),
    }
}

fn asked(jobs: &[&Sending]) -> Result<bool, Fault> {
    if !std::io::stdin().is_terminal() {
        return Err(Fault::new(
            "printing is asked about, and there is no terminal to answer at",
            "add --yes once the right paper and labels are loaded",
        ));
    }
    for sending in jobs {
        anstream::eprintln!(
            "  {:<18} {} on {}",
            sending.job.file,
            sending.takes,
            sending.job.queue.as_deref().unwrap_or("the usual printer")
        );
    }
    anstream::eprint!("print now? [y/N] ");
    let _ = std::io::stderr().flush();
    let mut answer = String::new();
    let _ = std::io::stdin().lock().read_line(&mut answer);
    Ok(matches!(answer.trim(), "y" | "Y" | "yes"))
}
