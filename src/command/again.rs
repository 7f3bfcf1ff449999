//! Finds the order of which something is to be printed again: in the ledger, in
//! an order file, or in a PDF that carries it. Gives what was recorded its name on
//! the disk.

mod guard;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::stamp;
use crate::cli::Again as Args;
use crate::fault::{Fault, Source, visible};
use crate::input::{self, LAB_FILE};
use crate::ledger::{Found, Ledger, Stamp, StoredKit, ledger_file, ledger_named};
use crate::output::Staged;
use crate::proof::carried_orders;
use crate::workshop::{Item, Workshop};
use crate::{import, order};

/// The order that was named.
pub(super) struct Target {
    pub source: Arc<Source>,
    /// What is to take its place in a revision.
    pub corrected: Option<Arc<Source>>,
    /// Beside which the laboratory's file is.
    pub path: PathBuf,
    /// The slot whose code was named.
    pub slot: Option<u8>,
    /// The PDF that was named.
    pub pdf: Option<Vec<u8>>,
    pub book: Option<(Ledger, StoredKit)>,
    pub stamp: Stamp,
}

/// Finds it.
///
/// # Errors
///
/// What is not there, and where it was looked for; everything that is wrong with
/// the ledger.
pub(super) fn find(shop: &mut Workshop, args: &Args) -> Result<Target, Vec<Fault>> {
    let one = |fault| vec![fault];
    let stamp = stamp(&args.signing).map_err(one)?;
    let named = Path::new(&args.what);
    let from_file = if named.is_file() { Some(read(shop, named, args)?) } else { None };
    let ledger = match ledger_path(args, from_file.is_some().then_some(named))? {
        Some(path) => Some(sound(&path)?),
        None => None,
    };
    let (slot, stored) = match (&from_file, &ledger) {
        (Some((number, _)), Some(ledger)) => {
            (None, Some(stored(ledger, number).map_err(one)?))
        }
        (None, Some(ledger)) => {
            let (kit, slot) = named_kit(ledger, &args.what).map_err(one)?;
            (slot, Some(kit))
        }
        (_, None) => (None, None),
    };
    let number = match (&from_file, &stored) {
        (Some((number, _)), _) => Some(number),
        (None, stored) => stored.as_ref().map(|kit| &kit.order),
    };
    if let (Some(number), Some(wanted)) = (number, &args.order)
        && number != wanted
    {
        return Err(vec![Fault::new(
            format!("`{}` is the order {number}, and not {wanted}", visible(&args.what)),
            "name the one that is meant; --order is for a file with several orders",
        )]);
    }
    let source = match (from_file, &stored) {
        (Some((_, source)), _) => source,
        (None, Some(kit)) => kept_text(kit),
        (None, None) => return Err(vec![unknown(&args.what)]),
    };
    // A PDF can lie anywhere; an order lies beside its laboratory's file.
    let beside = named.is_file()
        && (!is_pdf(named) || named.with_file_name(LAB_FILE).symlink_metadata().is_ok());
    let path = if beside { named.to_path_buf() } else { PathBuf::new() };
    let pdf = match is_pdf(named) && named.is_file() {
        true => Some(input::read_bytes(named, input::PDF_MAX_BYTES).map_err(one)?),
        false => None,
    };
    let book = ledger.zip(stored);
    Ok(Target { source, corrected: None, path, slot, pdf, book, stamp })
}

/// The order as the ledger has it.
fn kept_text(kit: &StoredKit) -> Arc<Source> {
    let text = kit.person.as_ref().map(|person| person.order_text.clone());
    Source::new(format!("order {} of the ledger", kit.order), text.unwrap_or_default())
}

/// Where the ledger is; `None` if there is none and the number is given instead.
fn ledger_path(args: &Args, file: Option<&Path>) -> Result<Option<PathBuf>, Vec<Fault>> {
    let (ledger, lab) = (args.file.ledger.as_deref(), args.file.lab.as_deref());
    match (ledger_named(ledger, lab, file)?, args.number) {
        (Some(path), Some(number)) => Err(vec![Fault::new(
            format!(
                "--number {number} is given, and {} counts what is printed again",
                path.display()
            ),
            "leave --number out: the number comes from the ledger",
        )]),
        (Some(path), None) => Ok(Some(path)),
        (None, Some(_)) if file.is_some() => Ok(None),
        (None, _) => {
            let mut faults = match ledger_file(ledger, lab) {
                Ok(path) => return Ok(Some(path)),
                Err(faults) => faults,
            };
            if file.is_some() {
                faults.iter_mut().for_each(|fault| {
                    fault.help.push_str(
                        "; without a ledger, say which reprint or revision this is: \
                         --number 1",
                    );
                });
            }
            Err(faults)
        }
    }
}

/// Opens a ledger in which nothing is wrong: what was changed in it could be
/// printed.
fn sound(path: &Path) -> Result<Ledger, Vec<Fault>> {
    let mut ledger = Ledger::open_existing(path).map_err(|fault| vec![fault])?;
    match ledger.check(None) {
        Ok(_) => Ok(ledger),
        Err(mut faults) => {
            faults.push(Fault::new(
                format!("nothing is printed again from {}: it is wrong", path.display()),
                "put the last backup that is sound in its place, or make the kit as a \
                 new order",
            ));
            Err(faults)
        }
    }
}

fn is_pdf(path: &Path) -> bool {
    path.extension().is_some_and(|kind| kind.eq_ignore_ascii_case("pdf"))
}

/// Number and text of the order in a file.
fn read(
    shop: &mut Workshop,
    path: &Path,
    args: &Args,
) -> Result<(String, Arc<Source>), Vec<Fault>> {
    let one = |fault| vec![fault];
    if !import::is_export(path) {
        return read_file(path, args).map_err(one);
    }
    let (items, unread) = shop.items(&[path.to_path_buf()]);
    let faults: Vec<Fault> = unread.into_iter().flat_map(|file| file.faults).collect();
    if !faults.is_empty() {
        return Err(faults);
    }
    let place = path.display().to_string();
    let numbered = |item: &Item| Some((item.row.number.clone()?, ()));
    let numbers = items.iter().filter_map(numbered).collect();
    let (number, ()) = chosen(numbers, &place, args).map_err(|fault| {
        // The one that is meant may be a row of which no number can be read.
        let unread = items.iter().filter(|item| item.row.number.is_none());
        let unread = unread.flat_map(|item| item.row.faults.clone());
        std::iter::once(fault).chain(unread).collect::<Vec<_>>()
    })?;
    let mut found =
        items.iter().filter(|item| item.row.number.as_deref() == Some(number.as_str()));
    match found.next() {
        Some(item) => Ok((number, item.row.and_then(|source| Ok(source.clone()))?)),
        None => Err(one(unknown(&number))),
    }
}

/// Those of an order file or a PDF.
fn read_file(path: &Path, args: &Args) -> Result<(String, Arc<Source>), Fault> {
    let place = path.display().to_string();
    if !is_pdf(path) {
        let source = input::read_text(path)?;
        let number = order::number_in(&source.text).ok_or_else(|| {
            Fault::new(
                format!("{place} is no order: it has no order number"),
                "name an order file, a PDF of a kit, an order number or a code",
            )
        })?;
        return Ok((number, source));
    }
    let bytes = input::read_bytes(path, input::PDF_MAX_BYTES)?;
    let carried = carried_orders(&bytes).map_err(|why| {
        Fault::new(
            format!("{place}: {why}"),
            "name a PDF that kitwright made, just as it made it, or the order\u{2019}s \
             number",
        )
    })?;
    let orders: Vec<(String, Arc<Source>)> = carried
        .into_iter()
        .map(|(name, text)| {
            // Anybody can have written the PDF.
            let name = visible(&name);
            let number = name.trim_end_matches(".toml").to_owned();
            (number, Source::new(format!("{name} in {place}"), text))
        })
        .collect();
    chosen(orders, &place, args)
}

/// The one of some numbered orders that is meant.
fn chosen<T: Clone>(
    orders: Vec<(String, T)>,
    place: &str,
    args: &Args,
) -> Result<(String, T), Fault> {
    let mut names: Vec<&str> = orders.iter().map(|order| order.0.as_str()).collect();
    match (&args.order, &orders[..]) {
        (_, []) => Err(Fault::new(
            format!("{place} carries no order"),
            "name a PDF that kitwright made, or the order\u{2019}s number",
        )),
        (None, [only]) => Ok(only.clone()),
        (Some(wanted), _) => {
            let found = orders.iter().find(|order| order.0 == *wanted).cloned();
            found.ok_or_else(|| {
                Fault::new(
                    format!("{place} does not carry the order {wanted}"),
                    crate::fault::suggest(wanted, &names),
                )
            })
        }
        (None, _) => {
            names.truncate(10);
            Err(Fault::new(
                format!("{place} carries {} orders", orders.len()),
                format!("say which one: --order {} …", names.join(", --order ")),
            ))
        }
    }
}

/// The kit whose order number or code was typed or scanned, and the slot of the
/// code.
fn named_kit(ledger: &Ledger, text: &str) -> Result<(StoredKit, Option<u8>), Fault> {
    let found = ledger.find(text)?;
    let typed: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let by_number = |found: &Found| {
        found.slot.is_some() || found.kit.order.eq_ignore_ascii_case(&typed)
    };
    let orders: Vec<String> =
        found.iter().map(|found| found.kit.order.clone()).take(10).collect();
    match found.into_iter().find(by_number) {
        Some(Found { kit, slot }) => not_forgotten(kit).map(|kit| (kit, slot)),
        // A name can be that of many.
        None => Err(Fault::new(
            format!("`{}` is no order number and no code", text.escape_debug()),
            format!("name the order: {}", orders.join(", ")),
        )),
    }
}

fn unknown(text: &str) -> Fault {
    let shown: String = text.escape_debug().take(60).collect();
    Fault::new(
        format!("`{shown}` is no file, no order number and no code"),
        "name an order file, a PDF of a kit, an order number such as HB-20417, or the \
         code on a label",
    )
}

fn stored(ledger: &Ledger, number: &str) -> Result<StoredKit, Fault> {
    let stored = ledger.kit(number)?.ok_or_else(|| {
        Fault::new(
            format!("the order {number} is not in the ledger"),
            format!("look for it with: kitwright find {number}"),
        )
    })?;
    not_forgotten(stored)
}

fn not_forgotten(kit: StoredKit) -> Result<StoredKit, Fault> {
    if kit.person.is_some() {
        return Ok(kit);
    }
    Err(Fault::new(
        format!("the order {}, made on {}, was forgotten", kit.order, kit.made_at),
        "make a new order with a number that was never used",
    ))
}

impl Target {
    /// Gives the files of a mark their names, now that it is recorded.
    ///
    /// # Errors
    ///
    /// What stands in the way.
    pub(super) fn publish(
        &self,
        staged: Staged,
        order: &str,
        mark: &str,
    ) -> Result<String, Vec<Fault>> {
        let paths = staged.paths();
        if let Err(mut faults) = staged.publish() {
            if self.book.is_some() {
                faults.push(Fault::of_file(
                    format!(
                        "{mark} of {order} is recorded, and not all of its files are \
                         written"
                    ),
                    format!(
                        "use none of them: print it again under the next number, with \
                         kitwright reprint {order} --reason \u{2026} and kitwright relabel \
                         {order} --reason \u{2026}"
                    ),
                ));
            }
            return Err(faults);
        }
        Ok(paths.iter().map(|path| format!("wrote {}\n", path.display())).collect())
    }
}
