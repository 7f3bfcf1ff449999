//! One kit, made and proven at the same time.

use std::panic::resume_unwind;
use std::thread;

use super::MadeKit;
use crate::fault::Fault;
use crate::imposition::Placing;
use crate::proof::FileKind;
use crate::typeset::STACK;
use crate::workshop::{Planned, Workshop};

impl Workshop {
    /// Makes the documents of one planned order, and proves them. The paper, which is
    /// most of it, is proven in a thread of its own while the packing slip is made.
    ///
    /// # Errors
    ///
    /// As [`Workshop::make`]; a fault for every difference.
    pub fn make_proven(
        &mut self,
        planned: &Planned,
        placing: &Placing,
    ) -> Result<MadeKit, Vec<Fault>> {
        let one = [planned];
        let name = |kind: FileKind| format!("{}/{}", planned.order.number, kind.name());
        let batch = self.make_batch(&one, placing)?;
        let setup = self.setup().clone();
        let prove_paper = || {
            let kind = FileKind::Paper;
            let mut shop = Workshop::with(setup.clone());
            shop.prove_batch(&one, &batch, kind, &batch.paper, &name(kind))
        };
        let counts = [batch.kits[0].counts];
        let (proven, packing) = thread::scope(|scope| {
            let beside =
                thread::Builder::new().stack_size(STACK).spawn_scoped(scope, prove_paper);
            let kind = FileKind::Labels;
            let labels = self.prove_batch(&one, &batch, kind, &batch.labels, &name(kind));
            let packing = self.make_packing(&one, &batch.stock, &counts, None);
            let slip = packing.as_ref().map_or(Ok(()), |bytes| {
                let name = name(FileKind::Packing);
                self.prove_packing(&one, &batch.stock, &counts, None, bytes, &name)
            });
            let paper = match beside {
                Ok(beside) => beside.join().unwrap_or_else(|why| resume_unwind(why)),
                // There is no thread to be had.
                Err(_) => prove_paper(),
            };
            ([paper, labels, slip], packing)
        });
        let made = MadeKit { batch, packing: packing? };
        let faults: Vec<Fault> =
            proven.into_iter().filter_map(Result::err).flatten().collect();
        if faults.is_empty() { Ok(made) } else { Err(faults) }
    }
}
