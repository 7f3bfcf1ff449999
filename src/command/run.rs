//! `kitwright run`: many orders in, files for two trays out.

mod send;
mod tell;

use std::sync::atomic::{AtomicBool, Ordering};

use indicatif::{ProgressBar, ProgressStyle};

use super::{Outcome, book, complain, now, placing, print, ready_to_make, workshop};
use crate::cli::Run;
use crate::document::{CoverFacts, PageCounts, SlipPlace};
use crate::fault::{Fault, visible};
use crate::imposition::Placing;
use crate::ledger::{RunCounts, digest};
use crate::making::RunFacts;
use crate::proof::FileKind;
use crate::run::book::Book;
use crate::run::given::Given;
use crate::run::journal::{Begun, Ended, FileRecord, Journal, PartRecord};
use crate::run::list::{Asked, LeftOut, List, Status, list};
use crate::run::part::{Making, file_name, make_part};
use crate::run::{crew, manifest};
use crate::workshop::{Item, Planned, Workshop};

pub(super) fn run(args: &Run) -> Outcome {
    match carry_out(args) {
        Ok(outcome) => outcome,
        Err(faults) => complain(&faults),
    }
}

/// A run as it was set up.
struct Room<'a> {
    args: &'a Run,
    journal: Journal,
    list: List,
    begun: Begun,
    making: Making,
    book: Option<Book>,
}

/// Set by Ctrl-C.
static STOP: AtomicBool = AtomicBool::new(false);
/// Whether a question waits for its answer.
static ASKING: AtomicBool = AtomicBool::new(false);

fn carry_out(args: &Run) -> Result<Outcome, Vec<Fault>> {
    let one = |fault| vec![fault];
    let mut shop = ready_to_make(workshop(&args.orders.shared)?, &args.making)?;
    let (items, unread) = shop.items(&args.orders.orders);
    let Some(first) = items.first() else {
        return Err(unread.into_iter().flat_map(|file| file.faults).collect());
    };
    // Once, and not again for each order.
    shop.lab(&first.path)?;
    let mut journal = Journal::of(&args.out).map_err(one)?;
    let earlier = match &journal {
        Some(journal) => journal.begun().map_err(one)?,
        None => None,
    };
    if let (Some(journal), Some(earlier), false) = (&journal, &earlier, args.resume) {
        return Err(vec![holds_a_run(args, journal, earlier)]);
    }
    let began = now(&args.signing).map_err(one)?;
    let asked_today = args.orders.shared.today.unwrap_or(began.date_naive());
    // What "today" and "first suitable" mean is settled once, when the run begins.
    let today = earlier.as_ref().map_or(asked_today, |earlier| earlier.today);
    shop.set_today(today);
    let mut book = book(&mut shop, &items, args.ledger.as_deref(), &args.signing)?;
    let whole = whole_digest(&items);
    let asked = Asked {
        shard: args.shard,
        kits_a_file: args.kits_per_file,
        start_at: args.laying.start_at,
        each_kit: args.laying.each_kit,
    };
    let list =
        list(&mut shop, items, unread, &asked, |planned| match (&earlier, &book) {
            (Some(earlier), _) => Ok(earlier.before(&planned.order.number)),
            (None, Some(book)) => book.made_before(planned),
            (None, None) => Ok(None),
        });
    let mut worst =
        if list.faults.is_empty() { Outcome::Done } else { complain(&list.faults) };
    let making = Making {
        placing: laid(args, &list)?,
        archive: args.archive,
        parts: list.parts.len(),
    };
    let journal = match journal.take() {
        Some(journal) => journal,
        None => Journal::open(&args.out).map_err(one)?,
    };
    let given = given(args, &shop, &list, &making);
    let digest = given.digest();
    let begun = match earlier {
        Some(earlier) if earlier.is_of(&digest) => earlier,
        Some(earlier) => return Err(vec![differs(args, &earlier, &journal, &given)]),
        None => {
            nothing_in_the_way(&journal, &making).map_err(one)?;
            let begun = Begun::new(began, today, args.shard, whole, digest, &list);
            journal.begin(&begun, &given).map_err(one)?;
            begun
        }
    };
    // A second Ctrl-C, or one at a question, ends the program at once: every file is
    // whole or not there.
    let _ = ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::Relaxed) || ASKING.load(Ordering::Relaxed) {
            std::process::exit(Outcome::Stopped as i32);
        }
    });
    if let Some(book) = &mut book {
        book.run = begun.ledger_name();
    }
    let mut room = Room { args, journal, list, begun, making, book };
    tell::load(&room);
    let parts = room.make_parts(&mut shop);
    tell::replaced(&room);
    let Some(parts) = parts? else { return Ok(tell::stopped(&room)) };
    let ended = room.finish(&mut shop, &parts);
    tell::replaced(&room);
    let Some(ended) = ended? else { return Ok(tell::stopped(&room)) };
    let jobs = send::jobs(&room, &parts, &ended).map_err(one)?;
    worst = worst.max(print(&tell::summary(&room, &parts, &jobs)));
    // Orders that have a kit already are left out, and nothing is wrong with that.
    if room.left_out(&parts).iter().any(|out| out.status != Status::Before) {
        worst = worst.max(Outcome::Wrong);
    }
    Ok(worst.max(send::send(&mut room, &jobs)))
}

/// Of all orders that were given, whatever becomes of them.
fn whole_digest(items: &[Item]) -> String {
    let text: String =
        items.iter().map(|item| digest(item.row.source.text.as_bytes()) + "\n").collect();
    digest(text.as_bytes())
}

/// Refuses to write over files that are of no run.
fn nothing_in_the_way(journal: &Journal, making: &Making) -> Result<(), Fault> {
    let files = (1..=making.parts)
        .flat_map(|part| FileKind::ALL.map(|kind| file_name(kind, part, making.parts)));
    for name in files.chain([manifest::NAME.to_owned(), "archive".to_owned()]) {
        let path = journal.path(&name);
        if path.symlink_metadata().is_ok() {
            return Err(Fault::new(
                format!("{} is there, and is of no run", path.display()),
                "move it away, or name another folder with --out",
            ));
        }
    }
    Ok(())
}

fn holds_a_run(args: &Run, journal: &Journal, earlier: &Begun) -> Fault {
    let out = args.out.display();
    let has_ended = matches!(journal.ended(earlier), Ok(Some(_)));
    if has_ended && earlier.parts == 0 {
        return Fault::new(
            format!("{out} holds the run {}, in which no kit was made", earlier.run),
            "take that folder away, which has nothing to print, or name another with --out",
        );
    }
    if has_ended {
        return Fault::new(
            format!("{out} holds the run {}, which is done", earlier.run),
            "name another folder with --out; to print it again, use the commands it \
             gave (--resume shows them)",
        );
    }
    Fault::new(
        format!("{out} holds the run {}, which was stopped", earlier.run),
        "go on with it with --resume, or name another folder with --out",
    )
}

fn differs(args: &Run, earlier: &Begun, journal: &Journal, given: &Given) -> Fault {
    if !earlier.is_of_this_program() {
        return Fault::new(
            format!(
                "the run {} in {} was begun by version {} of the program, and this is {}",
                earlier.run,
                args.out.display(),
                visible(&earlier.program),
                env!("CARGO_PKG_VERSION")
            ),
            "go on with the version that began it: another may print other times; or name \
             another folder with --out",
        );
    }
    let differences = journal.given().unwrap_or_default().differences(given);
    let lines = differences.iter().map(|line| format!("\n- {}", visible(line)));
    Fault::new(
        format!(
            "the orders, the laboratory's file or the settings are not those with which the \
             run {} in {} began",
            earlier.run,
            args.out.display()
        ),
        format!(
            "give the command just as it was; orders that were mended or added go into a \
             run of their own, with another --out. What is other:{}",
            lines.collect::<String>()
        ),
    )
}

/// How the run's labels are laid.
fn laid(args: &Run, list: &List) -> Result<Placing, Vec<Fault>> {
    let lab = list.lab.as_ref().map(|lab| &lab.lab);
    if let (Some(printers), Some(lab)) = (&args.print, lab) {
        printers.check(&lab.printers).map_err(|fault| vec![fault])?;
    }
    let queue = args.print.as_ref().map(|print| print.labels.as_str());
    let placing = placing(&args.laying, lab, queue)?;
    let stocks: Vec<&str> =
        list.parts.iter().map(|part| part.stock.name.as_str()).collect();
    if args.laying.start_at > 1 && stocks.windows(2).any(|pair| pair[0] != pair[1]) {
        return Err(vec![Fault::new(
            "--start-at is for one stock, and the orders need several",
            "make a run for each stock, or leave --start-at out",
        )]);
    }
    for part in &list.parts {
        placing
            .check(&part.stock)
            .map_err(|(what, help)| vec![Fault::new(what, help)])?;
    }
    Ok(placing)
}

/// Everything that decides what is printed and where it is remembered.
fn given(args: &Run, shop: &Workshop, list: &List, making: &Making) -> Given {
    let lab = list.lab.as_ref();
    let text = |path: &std::path::PathBuf| std::fs::read(path).unwrap_or_default();
    let logo = lab.and_then(|lab| lab.logo.as_deref()).unwrap_or_default();
    let protocol = args.orders.shared.protocol.as_ref().map(|path| digest(&text(path)));
    let lab_text = lab.map_or_else(String::new, |lab| lab.lab.source.text.clone());
    let mut stocks: Vec<String> =
        list.parts.iter().map(|part| format!("{:?}", part.stock)).collect();
    stocks.sort();
    stocks.dedup();
    let parts = format!("{stocks:?} {} {}", args.laying.start_at, args.kits_per_file);
    let mut given = Given::new(list);
    given.set("the stock, --start-at or --kits-per-file", parts);
    given.set("the laboratory's file", lab_text);
    given.set("the logo", digest(logo));
    given.set(
        "how labels lie, or --archive",
        format!("{:?} {}", making.placing, making.archive),
    );
    given.set("the protocol file", protocol.unwrap_or_default());
    given.set("--shard", args.shard.map_or_else(String::new, |shard| shard.to_string()));
    given.set("the fonts", shop.fonts_digest().to_owned());
    given.set("the name of the ledger", format!("{:?}", args.ledger));
    given
}

impl Room<'_> {
    fn threads(&self) -> usize {
        let all = || std::thread::available_parallelism().map_or(1, usize::from);
        self.args.threads.unwrap_or_else(all)
    }

    /// Makes the parts that are not whole yet; `None` if it was stopped.
    fn make_parts(
        &mut self,
        shop: &mut Workshop,
    ) -> Result<Option<Vec<PartRecord>>, Vec<Fault>> {
        let (threads, setup) = (self.threads(), shop.setup().clone());
        let (parts, making, journal) = (&self.list.parts, self.making, &self.journal);
        let begun = &self.begun;
        let book = &mut self.book;
        let bar = progress(self.list.parts.iter().map(|part| part.orders.len()).sum());
        let mut records = Vec::new();
        let job = |shop: &mut Workshop, index: usize| match journal
            .part(begun, &parts[index])
            .map_err(|fault| vec![fault])?
        {
            Some(whole) => Ok((whole, Vec::new())),
            None => make_part(shop, &parts[index], &making, journal, begun, Vec::new()),
        };
        let done = |index: usize, (mut record, mut faults): (PartRecord, Vec<Fault>)| {
            let part = &parts[index];
            // Before the ledger says that the kits are there.
            journal.still().map_err(|fault| vec![fault])?;
            if let Some(book) = book
                && let Err(refused) = book.record_part(shop, part, &record)
            {
                // Others recorded some of the orders meanwhile: these are theirs.
                let (taken, more) = book.taken(shop, part)?;
                if taken.is_empty() {
                    return Err(refused);
                }
                let again = make_part(shop, part, &making, journal, begun, taken)?;
                record = again.0;
                faults.extend(again.1.into_iter().chain(more));
                book.record_part(shop, part, &record)?;
            }
            // Only what is remembered may be printed.
            journal.publish(&record).map_err(|fault| vec![fault])?;
            if !faults.is_empty() {
                bar.suspend(|| complain(&faults));
            }
            bar.inc(part.orders.len() as u64);
            records.push(record);
            Ok(())
        };
        let worked = crew::work(&setup, threads, parts.len(), &STOP, job, done);
        bar.finish_and_clear();
        worked?;
        Ok((records.len() == parts.len()).then_some(records))
    }

    /// Writes the packing slips and the manifest; `None` if it was stopped.
    fn finish(
        &mut self,
        shop: &mut Workshop,
        parts: &[PartRecord],
    ) -> Result<Option<Ended>, Vec<Fault>> {
        let one = |fault| vec![fault];
        let ended = match self.journal.ended(&self.begun).map_err(one)? {
            Some(ended) => ended,
            None => {
                let Some(packing) = self.make_packing(shop, parts)? else {
                    return Ok(None);
                };
                let names: Vec<String> =
                    packing.iter().map(|file| file.name.clone()).collect();
                let bytes = manifest::manifest(&self.begun, parts, &names);
                let manifest = self.journal.write(manifest::NAME, &bytes).map_err(one)?;
                let run = self.begun.ledger_name();
                let ended = Ended { run, packing, manifest };
                self.journal.end(&ended).map_err(one)?;
                ended
            }
        };
        let counts = self.counts(parts);
        self.journal.still().map_err(one)?;
        if let Some(book) = &mut self.book {
            book.record_end(counts, &ended)?;
        }
        Ok(Some(ended))
    }

    fn counts(&self, parts: &[PartRecord]) -> RunCounts {
        let left_out = self.left_out(parts);
        let count = |status| left_out.iter().filter(|out| out.status == status).count();
        RunCounts {
            made: parts.iter().map(|part| part.kits.len() as u32).sum(),
            held: count(Status::Hold) as u32,
            wrong: count(Status::Wrong) as u32,
        }
    }

    /// The orders without a kit: those that never could have one, and those that
    /// did not fit.
    fn left_out<'a>(&'a self, parts: &'a [PartRecord]) -> Vec<&'a LeftOut> {
        let late = parts.iter().flat_map(|part| &part.left_out);
        self.begun.left_out.iter().chain(late).collect()
    }

    fn make_packing(
        &self,
        shop: &Workshop,
        parts: &[PartRecord],
    ) -> Result<Option<Vec<FileRecord>>, Vec<Fault>> {
        let newest = || self.book.as_ref().map_or(Ok(None), Book::head);
        let ledger = self.journal.head(newest).map_err(|fault| vec![fault])?;
        let press = shop.setup().press.as_ref();
        let left_out = self.left_out(parts).into_iter();
        let left_out: Vec<String> =
            left_out.map(|out| tell::left_out_line(out, press)).collect();
        let made = parts.iter().map(|part| part.kits.len()).sum();
        let alike = &self.list.alike;
        let first = parts.iter().position(|part| !part.kits.is_empty());
        let (out, today) = (left_out.len(), self.begun.today);
        // More than anybody reads stands in the manifest.
        let left_out = tell::shortened(left_out);
        let (lists, count, journal) = (&self.list.parts, parts.len(), &self.journal);
        let run = self.begun.run.clone();
        let job = |shop: &mut Workshop, index: usize| {
            let (list, record) = (&lists[index], &parts[index]);
            if record.kits.is_empty() {
                return Ok(FileRecord::default());
            }
            let mut planned: Vec<Planned> = Vec::new();
            for (order, item) in list.orders.iter().zip(&list.items) {
                if record.kits.iter().any(|kit| kit.order == *order) {
                    planned.push(shop.plan_item(item)?);
                }
            }
            let planned: Vec<&Planned> = planned.iter().collect();
            let counts: Vec<PageCounts> =
                record.kits.iter().map(|kit| kit.pages.counts).collect();
            let cover = CoverFacts {
                run: run.clone(),
                part: record.part,
                parts: count,
                paper: list.paper,
                leaves: record.leaves,
                label_sheets: record.sheets,
                stock: record.stock.clone(),
                start_at: record.start_at,
                is_roll: list.stock.cells_per_page() == 1,
                made,
                out,
                left_out: if Some(index) == first {
                    left_out.clone()
                } else {
                    Vec::new()
                },
                today,
                alike: record
                    .kits
                    .iter()
                    .map(|kit| alike.get(&kit.order).cloned())
                    .collect(),
                ledger: ledger.clone(),
            };
            let is_roll = list.stock.cells_per_page() == 1;
            let mut next = record.start_at;
            let places = record.kits.iter().enumerate().map(|(index, kit)| SlipPlace {
                number: index + 1,
                first: kit.pages.first,
                last: kit.pages.first + kit.sides - 1,
                // Those on a roll come one after the other.
                labels: if is_roll {
                    let first = next;
                    next += kit.codes.len();
                    format!("{first} to {}", next - 1)
                } else {
                    kit.places.clone()
                },
                alike: alike.get(&kit.order).cloned(),
            });
            let facts = RunFacts { cover, places: places.collect() };
            let facts = Some(&facts);
            let bytes = shop.make_packing(&planned, &list.stock, &counts, facts)?;
            let name = file_name(FileKind::Packing, record.part, count);
            shop.prove_packing(&planned, &list.stock, &counts, facts, &bytes, &name)?;
            journal.write(&name, &bytes).map_err(|fault| vec![fault])
        };
        let mut files = Vec::new();
        let setup = shop.setup().clone();
        crew::work(&setup, self.threads(), count, &STOP, job, |_, file| {
            files.push(file);
            Ok(())
        })?;
        Ok((files.len() == count).then_some(files))
    }
}

/// A bar on a terminal, and nothing where there is none.
fn progress(kits: usize) -> ProgressBar {
    let bar = ProgressBar::new(kits as u64);
    let style = "{wide_bar} {pos} of {len} kits, {per_sec}, {eta} left";
    if let Ok(style) = ProgressStyle::with_template(style) {
        bar.set_style(style);
    }
    bar
}
