//! Finds the order of which something is to be printed again: in the ledger, in
//! an order file, or in a PDF that carries it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::ledger::stamp;
use crate::cli::Again as Args;
use crate::fault::{Fault, Source};
use crate::input;
use crate::ledger::{Found, Ledger, Stamp, StoredKit, digest, ledger_file};
use crate::order;
use crate::proof::attached_orders;
use crate::workshop::{Planned, Workshop};

/// The order that was named.
pub(super) struct Target {
    pub source: Arc<Source>,
    /// Beside which the laboratory's file is.
    pub path: PathBuf,
    /// The slot whose code was named.
    pub slot: Option<u8>,
    pub book: Option<(Ledger, StoredKit)>,
    pub stamp: Stamp,
}

/// Finds it.
///
/// # Errors
///
/// What is not there, and where it was looked for.
pub(super) fn find(args: &Args) -> Result<Target, Vec<Fault>> {
    let one = |fault| vec![fault];
    let stamp = stamp(&args.signing);
    let named = Path::new(&args.what);
    let from_file =
        if named.is_file() { Some(read(named, args).map_err(one)?) } else { None };
    let ledger = match ledger_file(args.file.ledger.as_deref(), args.file.lab.as_deref())
    {
        Ok(path) => Some(Ledger::open_existing(&path).map_err(one)?),
        // A file has the order in itself.
        Err(_) if from_file.is_some() && args.number.is_some() => None,
        Err(mut faults) => {
            if from_file.is_some() {
                faults.iter_mut().for_each(|fault| {
                    fault.help.push_str(
                        "; without a ledger, say which reprint or revision this is: \
                         --number 1",
                    );
                });
            }
            return Err(faults);
        }
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
    let source = match (from_file, &stored) {
        (Some((_, source)), Some(kit)) => {
            same(&source, kit).map_err(one)?;
            source
        }
        (Some((_, source)), None) => source,
        (None, Some(kit)) => Source::new(
            format!("order {} of the ledger", kit.order),
            kit.person
                .as_ref()
                .map(|person| person.order_text.clone())
                .unwrap_or_default(),
        ),
        (None, None) => return Err(vec![unknown(&args.what)]),
    };
    let is_order = named.is_file() && !is_pdf(named);
    let path = if is_order { named.to_path_buf() } else { PathBuf::new() };
    Ok(Target { source, path, slot, book: ledger.zip(stored), stamp })
}

fn is_pdf(path: &Path) -> bool {
    path.extension().is_some_and(|kind| kind.eq_ignore_ascii_case("pdf"))
}

/// Number and text of the order in a file.
fn read(path: &Path, args: &Args) -> Result<(String, Arc<Source>), Fault> {
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
    let orders: Vec<(String, Arc<Source>)> = attached_orders(&bytes)
        .into_iter()
        .map(|(name, text)| {
            let number = name.trim_end_matches(".toml").to_owned();
            (number, Source::new(format!("{name} in {place}"), text))
        })
        .collect();
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

/// Refuses a text that is not the newest in the ledger: the patient has another
/// sheet.
fn same(source: &Arc<Source>, kit: &StoredKit) -> Result<(), Fault> {
    let person = kit.person.as_ref();
    if person.is_some_and(|person| person.input_digest == digest(source.text.as_bytes()))
    {
        return Ok(());
    }
    Err(Fault::new(
        format!(
            "{} is not the order {} as the ledger has it{}",
            source.name,
            kit.order,
            match kit.revision {
                0 => String::new(),
                revision => format!(", revision {revision}"),
            }
        ),
        format!(
            "to print what the ledger has, name the order: {}; to change it, use reprint \
             with the new times",
            kit.order
        ),
    )
    .at(source, 0..0, ""))
}

impl Target {
    /// The order as it was planned for the papers that are out.
    ///
    /// # Errors
    ///
    /// Faults of the order; a protocol that has changed since.
    pub(super) fn plan(&self, shop: &mut Workshop) -> Result<Planned, Vec<Fault>> {
        let mut planned = shop.plan(&self.source, &self.path)?;
        let Some((_, stored)) = &self.book else { return Ok(planned) };
        planned.edition.revision = stored.revision;
        let protocol = format!("{} {}", planned.protocol.name, planned.protocol.version);
        if protocol != stored.protocol {
            return Err(vec![Fault::new(
                format!(
                    "the kit {} was made by the protocol {}, and this is {protocol}",
                    stored.order, stored.protocol
                ),
                "its times may be others now: name the old protocol file with --protocol, \
                 or make a new order",
            )]);
        }
        if digest(planned.lab.lab.source.text.as_bytes()) != stored.lab_digest {
            anstream::eprintln!(
                "note: {} has changed since the kit was made",
                planned.lab.lab.source.name
            );
        }
        Ok(planned)
    }
}
