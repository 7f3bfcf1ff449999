# Spanish catalog: every word that a patient or a packer reads on paper, for
# readers in the United States and Latin America (usted, short sentences, no
# regional words).
#
# One message for each thing said. All catalogs have the same messages with the
# same arguments; a test compares them. Times, dates and amounts come in ready
# made, so a message never does arithmetic.
#
# A time takes no article here, because "las" or "la" depends on the hour, and
# none ends a sentence, because "a. m." already ends in a full stop. A form of
# medicine may be a gel as well as a tablet, so none is simply "taken".

### About this catalog

# "original" for the language the words were written in, "no" for a translation
# that no qualified translator has reviewed, otherwise who reviewed it and when.
catalog-review = no
language-name = Español

### Times and dates

clock-12 =
    { $half ->
        [am] { $hour }:{ $minute } a. m.
       *[pm] { $hour }:{ $minute } p. m.
    }
clock-24 = { $hour }:{ $minute }
clock-noon = mediodía
clock-midnight = medianoche
date-day = { $weekday }, { $date }
date-label = { $day }-{ $month }-{ $year }
day-number = Día { $number }
day-number-before = El día anterior
range = { $from } a { $to }

### Amounts

amount-none = 0 mL
amount-cups =
    { $count ->
        [one] { $ml } mL ({ $cups } taza)
       *[other] { $ml } mL ({ $cups } tazas)
    }
cup-defined = Aquí, una taza es una taza de medir de EE. UU.: 8 onzas líquidas, unos 237 mL.
weight = { $figure } { $unit }

### Every page

page-of = Página { $page } de { $pages }
foot-order = { $name } · Orden { $order }
foot-zone = Horas de { $zone } (reglas { $version }). Hoja { $sheet }.
foot-edition = { $mark }. { $more }
mark-revision = Revisión { $number }
mark-reprint = Reimpresión { $number }
foot-undated = Hoja sin fechas. Hoja { $sheet }.
translation-unreviewed = Traducción no revisada.
label-name = Nombre
label-born = Nació
label-order = Orden
field-name = { $family }, { $given }

### Instruction sheet

sheet-title = Horario de sus tarjetas
sheet-start = Empiece el { $date }.
sheet-start-blank = El día 1 es: ______________________
sheet-revised = Su plan ha cambiado. Use estas hojas. Tire las hojas anteriores.
sheet-assumed = No sabíamos a qué hora suele usted { $what }. Usamos horas comunes. Si las suyas son distintas, llámenos antes de empezar.
anchor-lunch = almorzar
anchor-dinner = cenar
anchor-bedtime = acostarse
anchor-waking = despertarse
list-and = { $first } y { $last }

first-heading = No empiece todavía si:
first-limits = Le han dicho cuánto puede beber. Tiene una enfermedad de los riñones o del corazón, diabetes, diabetes insípida, piedras en los riñones o anemia falciforme. Usa litio, desmopresina o un diurético.
first-pregnant = Está embarazada, amamanta o tiene menos de 18 años.
first-ill = Se siente mal, vomita, tiene fiebre o diarrea, o hace mucho calor.
first-call = Llame primero al { $phone }.
first-cleared = { $by } revisó { $what } el { $date }.
first-cleared-rest = Puede hacer esta prueba si nada más del recuadro vale para usted. Siga lo que le indicó su profesional de salud.
cleared-limits = su salud y cuánto puede beber
cleared-breastfeeding = su salud, la lactancia y cuánto puede beber
cleared-pregnant = su embarazo
cleared-age = su edad
sheet-ask = Antes de empezar, pregunte a su profesional de salud por: { $medicines }.
sheet-ask-drinks = Antes de empezar, pregunte a su profesional de salud cuánto puede beber. Escríbalo aquí: ______________________
sheet-clocks = Durante esta prueba cambia la hora. Las horas de esta hoja son las que mostrará su reloj.
sheet-clocks-later = Al día siguiente, si recupera una tarjeta, ya habrá cambiado la hora. Las horas de esta hoja son las que mostrará su reloj.

timeline-alt = Una línea con sus horas en orden. { $stations }.
timeline-stop = no beba
timeline-stop-prescribed = beba lo indicado
timeline-sleep = duerma
timeline-dinner = cena
timeline-empty = Vacíe la vejiga
timeline-bed = A dormir
timeline-card = Tarjeta { $card }

part-before = Antes de dormir
part-night = Mientras duerme
part-after = Después de despertarse
part-pack = Empacar y enviar
part-heading = { $title } – { $day }

step-caffeine = Nada de cafeína.
step-caffeine-more = Ni café, té, bebidas de cola o energéticas, ni chocolate hasta después de la tarjeta { $card }.
step-caffeine-until = Ni café, té, bebidas de cola o energéticas, ni chocolate hasta esta hora: { $time }.
step-water = Hasta las { $until }, beba solo agua: { $amount } como máximo.
step-time-first = Su reloj mostrará esta hora dos veces. Haga esto la primera vez.
step-time-second = Su reloj mostrará esta hora dos veces. Haga esto la segunda vez.
step-time-midnight = A esta hora empieza el { $day }.
step-empty = Orine en el inodoro.
step-empty-more = Después no beba nada hasta terminar la tarjeta { $card }.
step-empty-more-prescribed = Después no beba nada hasta terminar la tarjeta { $card }, a menos que su profesional de salud le haya indicado beber.
step-short = La hora de la tarjeta { $before } es también la hora de vaciar la vejiga. No beba nada hasta terminar la tarjeta { $card }.
step-short-prescribed = La hora de la tarjeta { $before } es también la hora de vaciar la vejiga. No beba nada hasta terminar la tarjeta { $card }, a menos que su profesional de salud le haya indicado beber.
step-card = Tarjeta { $card }.
step-card-lunch = Hágala justo antes de almorzar.
step-card-dinner = Hágala justo antes de cenar.
step-card-bedtime = Hágala justo antes de dormir.
step-card-waking = Hágala en cuanto se despierte, antes que cualquier otra cosa.
step-card-within = Termínela en { $minutes } minutos o menos.
step-card-woke = Anote a qué hora se despertó.
step-card-later = Hágala { $offset } después de la hora real en que se despertó.
step-card-general = Hágala { $offset } después de { $anchor }.
step-card-before = Hágala { $offset } antes de { $anchor }.
offset-hours = { $count ->
    [one] { $count } hora
   *[other] { $count } horas
 }
offset-minutes = { $count ->
    [one] { $count } minuto
   *[other] { $count } minutos
 }
step-write = Después de cada tarjeta, escriba enseguida en ella la fecha y la hora.
step-dinner = Cene. Tome una bebida normal, una sola y no muy grande.
step-dinner-alone = Cene.
step-dinner-dry = Cene sin beber nada.
step-dinner-prescribed = Cene. Beba solo como le indicó su profesional de salud.
step-spare-time = Si se levanta
step-spare = Tarjeta extra.
step-spare-first = Hágala la primera vez que se levante a orinar, si luego vuelve a dormir.
step-spare-second = La segunda vez, solo use el inodoro.
step-spare-up = ¿Ya no va a dormir más? Haga la tarjeta { $card }, aunque sea temprano.
step-night = Solo use el inodoro, si luego vuelve a dormir.
step-allowance = Hasta terminar la tarjeta { $card }, puede beber agua: { $amount } como máximo.
step-allowance-lookup = Desde ahora hasta terminar la tarjeta { $card }, puede beber un poco de agua. Busque su cantidad en la hoja “Lo que puede beber”.
step-allowance-prescribed = Desde ahora hasta terminar la tarjeta { $card }, beba solo agua y solo como le indicó su profesional de salud.
step-allowance-ask = Hasta terminar la tarjeta { $card }, beba agua solo hasta la cantidad que anotó arriba.
step-allowance-eat = Puede comer.
step-allowance-help = Puede comer. Todavía nada de cafeína.
step-dose-after = Ahora le toca { $medicine } (hora de siempre: { $usual }). Si ya lo hizo, no lo repita.
calendar-dose = Después le toca { $medicine } (hora de siempre: { $usual }). Si ya lo hizo, no lo repita.
step-dose-wait = Espere con { $medicine } hasta hacer la tarjeta { $card }.
step-then = Después
step-done = Ya puede beber como siempre.
step-done-prescribed = Beba como le indicó su profesional de salud.
step-pack = Revise que todas las tarjetas estén secas. Después, empáquelas.
step-post = Envíe el kit por correo hoy.
step-post-check = Antes pregunte si hoy hay servicio de correo. El día siguiente es feriado.
step-post-undated = Envíe el kit ese día, o el siguiente día con servicio de correo.
time-next-day = { $time }, { $day }
time-first = { $time } (1.ª)
time-second = { $time } (2.ª)

how-heading = Cómo hacer una tarjeta
how-check = Revise que la tarjeta tenga su nombre y fecha de nacimiento. Si no, no la use y llámenos.
how-hands = Lávese las manos con agua y jabón. Séqueselas.
how-catch = Orine en el vaso limpio.
how-wet = Meta en la orina el extremo de papel de la tarjeta hasta que se moje todo. Deje que escurra.
how-write = Escriba la fecha y la hora en la tarjeta.
how-dry = Cuelgue la tarjeta para que se seque. Manténgala lejos del calor, del sol, de los niños y de las mascotas. Nada debe tocarla.
how-rinse = Enjuague el vaso con agua y déjelo secar. Lávese las manos.

med-heading = Sus medicinas
med-none = En su orden no hay medicinas anotadas. Si toma o usa alguna, llámenos antes de empezar.
med-rule = Para esta prueba, no deje, no se salte, no atrase ni cambie ninguna medicina, a menos que se lo haya dicho { $provider }.
med-rule-unnamed = Para esta prueba, no deje, no se salte, no atrase ni cambie ninguna medicina, a menos que se lo haya dicho quien se la recetó.
med-medicine = Medicina
med-usual = Hora de siempre
med-as-usual = Como siempre
med-patch = Déjelo puesto
med-after-card = Después de la tarjeta { $card } ({ $time })
med-ask = Pregunte antes: ________
med-prescribed = Como dice su receta
med-steroid = { $medicine } es un esteroide (corticoide). Nunca deje de usarlo de repente.
med-note = { $medicine }. De su profesional de salud: { $note }
med-note-at = { $medicine }, { $times }. De su profesional de salud: { $note }
med-sip-noted = Mientras no debe beber nada: tome { $medicines } a su hora, o cuando lo diga la nota de arriba, con un sorbo de agua. Anótelo.
med-sip = Mientras no debe beber nada: tome { $medicines } a su hora, con un sorbo de agua. Anótelo.
med-skin = Gel, crema o spray: lávese las manos con jabón antes de tocar una tarjeta. No deje que el producto toque las tarjetas.
med-agreed = { $provider } aceptó los cambios de hora de arriba.
med-named = { $name } ({ $form })

form-tablet = tableta
form-capsule = cápsula
form-liquid = líquido
form-under-tongue = debajo de la lengua
form-gel = gel
form-cream = crema
form-spray = spray
form-drops = gotas
form-inhaler = inhalador
form-suppository = supositorio
form-patch = parche
form-injection = inyección
form-pellet = pellet
form-implant = implante
form-ring = anillo

wrong-heading = Si algo sale mal
wrong-missed = Si no hizo una tarjeta o la hizo tarde: no adivine la hora. Si sigue seca, úsela a la hora de la tabla de abajo. Si está mojada, escriba en ella la hora real, guárdela y llámenos.
wrong-waking = Si no hizo la tarjeta { $card } en los { $minutes } minutos tras despertar: hoy no haga la { $next }. Tome sus medicinas a la hora de siempre; si ya pasó, ahora. ¿Dos dosis de una? Llame antes a su profesional.
wrong-waking-missed = Si no hizo la tarjeta { $card }: hoy no haga la { $next }. Tome sus medicinas a la hora de siempre; si ya pasó, ahora. ¿Dos dosis de una? Llame antes a su profesional.
wrong-dose-next = Si hizo la tarjeta { $before } pero no la tarjeta { $card }: no se salte { $medicines }. Llame a su profesional.
wrong-dose = Si no hizo la tarjeta { $card }: no se salte { $medicines }. Llame a su profesional.
wrong-cannot = Si no puede orinar: beba un vaso de agua y espere unos minutos.
wrong-drank = Si bebió cuando no debía: haga la tarjeta y anote lo que bebió.
wrong-changed = Si cambia su horario: mire la tabla “Si su día cambia”.
wrong-ill = Si se siente mal, o tiene mareos o mucha sed: beba algo, deje la prueba y llame a su profesional de salud o a nosotros.
wrong-ill-prescribed = Si se siente mal, o tiene mareos o mucha sed: deje la prueba y llame a su profesional de salud o a nosotros. Beba como le indicó su profesional.

repeat-heading = Si le faltó una tarjeta
repeat-card = Tarjeta
repeat-card-with = { $card } y la { $next }
repeat-card-alone = { $card } sola
repeat-day = Día
repeat-empty = Vacíe la vejiga
repeat-stop = No beba desde
repeat-collect = Haga la tarjeta
repeat-none = —
repeat-dose = Si recupera { $count ->
    [one] la tarjeta
   *[other] las tarjetas
  } { $card }: después (más o menos { $time }) le toca { $medicine } (hora de siempre: { $usual }).
repeat-dose-ask = Si recupera { $count ->
    [one] la tarjeta
   *[other] las tarjetas
  } { $card }: pregunte primero cuándo le toca { $medicine } (hora de siempre: { $usual }).
repeat-once = ¿Dos de estas líneas hablan de la misma dosis del mismo día? Tómela una sola vez, después de la última tarjeta.
repeat-once-ask = ¿Dos de estas líneas hablan de la misma dosis del mismo día? Si una dice que pregunte, pregunte. Si no, tómela una sola vez, después de la última tarjeta.
repeat-both = ¿Recupera las tarjetas { $before } y { $card }? { $rule }
repeat-rules = El día en que recupere una tarjeta, siga las mismas reglas sobre bebidas.
repeat-rules-caffeine = El día en que recupere una tarjeta, siga las mismas reglas sobre bebidas y cafeína.
repeat-ask = Si recupera una tarjeta, pregunte también por ese día (medicinas con “Pregunte”).
repeat-pack = Si recupera una tarjeta, duerma otra noche antes de empacar. Todas deben estar secas.

changes-heading = Si su día cambia
changes-both = Donde dice tarjeta { $before }, con ella vacía la vejiga. No beba nada hasta terminar la tarjeta { $card }.
changes-both-prescribed = Donde dice tarjeta { $before }, con ella vacía la vejiga. No beba nada hasta terminar la tarjeta { $card }, a menos que su profesional de salud le haya indicado beber.
changes-dinner = Cena a las
changes-bedtime = Se acuesta a las
changes-empty = Vacíe a las
changes-waking = Despierta a las
changes-card = Tarjeta { $card } a las

care-heading = Cuídese
care-drink = Si tiene mucha sed o calor, o se siente mal, beba algo. Su salud es lo primero.
care-drink-prescribed = Si tiene mucha sed o calor, o se siente mal, deje la prueba y llame. Beba como le indicó su profesional de salud.
care-later = Después, no beba de más para compensar.
care-signs = ¿Vómitos, fiebre, mareos, confusión o muy poca orina? Deje la prueba y llame. En una emergencia, llame al { $emergency }.
care-steroid = ¿Usa un esteroide (corticoide) y tiene vómitos, confusión o mucha debilidad, o siente que se va a desmayar? Llame al { $emergency } de inmediato.
care-cards = Nunca use una tarjeta con el nombre de otra persona. Nunca le dé una tarjeta a otra persona.
care-not = Esta prueba no es para emergencias. Solo su profesional de salud puede decirle qué significan los resultados.

call-heading = ¿Tiene preguntas?
call-lab = { $lab }: { $phone }. { $hours }
call-provider = Su profesional de salud, { $provider }: { $phone }
call-language = La ayuda en otros idiomas es gratis. Solo pídala.

### Drinks table

fluids-title = Lo que puede beber
fluids-intro = Lo mejor es el agua. Estas reglas son solo para los días de la prueba.
fluids-when = Cuándo
fluids-what = Lo que puede beber
fluids-water-up-to = Agua, no más de { $amount } en total
fluids-nothing = Nada
fluids-nothing-prescribed = Nada, a menos que su profesional de salud le haya indicado beber
fluids-with-dinner = Una bebida normal con la cena, una sola y no muy grande
fluids-if-thirsty = Un sorbo de agua si tiene sed
fluids-allowance = Agua, no más de { $amount } en total
fluids-allowance-lookup = Agua, no más de la cantidad que dice la tabla de abajo
fluids-allowance-prescribed = Agua, solo como le indicó su profesional de salud
fluids-allowance-ask = Agua, solo hasta la cantidad que le indicó su profesional de salud
fluids-normal = Como siempre
fluids-normal-prescribed = Como le indicó su profesional de salud
fluids-from = Desde { $from }
fluids-caffeine = Sin cafeína (desde { $from } hasta { $until }): nada de café, té, bebidas de cola, bebidas energéticas ni chocolate.
fluids-table = Cuánta agua después de despertarse
fluids-table-own = Su peso: { $weight }. Su cantidad: { $amount }.
fluids-weight = Peso
fluids-amount = Máximo de agua
fluids-between = { $from } a { $to } { $unit }
fluids-limit = ¿Alguien le dijo cuánto puede beber? Siga esa indicación, no esta página.
fluids-no-table = Esta página no tiene tabla. Su profesional de salud debe decirle cuánto puede beber.

### Information card

card-title = Hoja de información
card-intro = Llénela durante la prueba. Envíela con las tarjetas.
card-weight = Peso
card-known = { $label }:
card-phone = Su teléfono
card-sex = Sexo
card-cycle = Primer día de su última menstruación, si menstrúa
card-pregnant = ¿Está embarazada?
card-yes = Sí
card-no = No
card-provider = Profesional de salud
card-accession = Número del laboratorio (lo llena el laboratorio)
card-times = Lo que pasó en realidad
card-card = Tarjeta
card-code = Número
card-planned = Prevista
card-emptied = Vacié la vejiga a las
card-date = Fecha
card-time = La hice a las
card-spare = Extra
card-woke = Me desperté a las
card-slept = Me dormí a las
card-times-up = Mientras dormía me levanté a las
card-drinks = Lo que bebí, cuánto y cuándo
card-medicines = Medicinas: cuándo las usé en realidad
card-medicine-other = Otras medicinas, vitaminas, cremas
card-sign = Estas tarjetas las hice yo. Nombre y fecha:
card-day-and-time = { $day }, { $time }
card-day-and-midnight = { $time }, inicia { $day }

### Return checklist

list-title = Antes de enviar el kit
list-intro = Haga esto (desde: { $when }). Si recuperó una tarjeta, duerma antes una noche más.
list-dry = Todas las tarjetas están secas. Si alguna está húmeda, espere.
list-date = Cada tarjeta que usó tiene la fecha y la hora en que la hizo.
list-name = Cada tarjeta tiene su nombre y su fecha de nacimiento.
list-bag = Cada tarjeta está en su propia bolsa, con la etiqueta doblada hacia atrás.
list-bag-desiccant = En la bolsa está también el paquetito secante que venía con ella.
list-spare = La tarjeta extra está en su bolsa, usada o no.
list-card = La hoja de información está completa y dentro del sobre.
list-close = El sobre está cerrado. Por fuera solo tiene escrita la dirección.
list-post = Envíelo por correo el { $date }. Si recuperó una tarjeta: el siguiente día con correo.
list-post-undated = Envíelo el siguiente día con servicio de correo. Los domingos y feriados no cuentan.
list-check-post = Antes pregunte si ese día hay servicio de correo.
list-address = Envíelo a
list-keep = Guarde esta página.
list-cards = Tarjetas de este kit

### Labels

card-number = Tarjeta { $card }
card-number-spare = Tarjeta extra
label-planned = Prevista { $time }
label-planned-spare = Solo si se levanta mientras duerme
label-collected = Recogida
label-date = fecha
label-time = hora
label-half = a. m. / p. m.
label-heading = { $card } – { $title }
label-born-short = Nació { $date }
label-ruler = Esta línea mide 100 mm. Imprima al 100 %.
paper-title = Papel de los kits
label-sheet-title = Etiquetas de las tarjetas
label-qr-alt = Código QR: { $code }

### Packing slip

pack-title = Lista de empaque
pack-for = Para quien empaca. No la ponga en el kit.
pack-contents = Ponga en el kit
pack-sheet = Hoja de instrucciones, { $pages ->
    [one] { $pages } página
   *[other] { $pages } páginas
 }
pack-fluids = Tabla de bebidas y lista para el envío, { $pages ->
    [one] { $pages } página
   *[other] { $pages } páginas
 }
pack-card = Hoja de información, { $pages ->
    [one] { $pages } página
   *[other] { $pages } páginas
 }
pack-cards = Tarjetas con etiqueta: { $count }
pack-bags = Bolsas con paquetito secante: { $count }
pack-cup = Vaso de recolección: 1
pack-envelope = Sobre de devolución, con la dirección escrita: 1
pack-tick = Pegue cada etiqueta en su tarjeta. Compare el número con el de la tarjeta y márquelo.
pack-revised = Esto es para { $mark }: ponga solo hojas y etiquetas que lo digan. Tire las anteriores.
pack-alike = El nombre se parece al de { $order }.
pack-findings = Mire esto antes de cerrar el kit
pack-paper = Papel
pack-large = { $paper }, letra grande
pack-language = Idioma
pack-stock = Etiquetas
pack-start = Tarjeta 1 el
pack-undated = sin fecha
pack-protocol = Protocolo
pack-approval = Aprobado por
pack-approved = { $by }, { $on }
pack-unapproved = nadie nombrado en lab.toml
pack-packed = Empacado por
pack-checked = Revisado por

# The run sheet, for the packer.

cover-title = Hoja de la tanda
cover-run = Tanda
cover-part = { $run }, parte { $part } de { $parts }
cover-kits = Kits en esta parte
cover-paper = Papel
cover-leaves = { $leaves ->
    [one] 1 hoja, por las dos caras
   *[other] { $leaves } hojas, por las dos caras
}
cover-sheets = { $stock }: { $sheets ->
    [one] 1 hoja
   *[other] { $sheets } hojas
}, primera etiqueta en la celda { $cell }
cover-labels = { $stock }: { $count ->
    [one] 1 etiqueta
   *[other] { $count } etiquetas
}
cover-whole = Toda la tanda
cover-counts = { $made } hechos, { $out } sin hacer
cover-ledger = Registro
cover-no-ledger = sin registro
cover-left-out = Sin hacer: no hay kit
cover-list = Kits, en el orden de las pilas
cover-number = N.º
cover-note = Nota
cover-large = letra grande
cover-things = { $count ->
    [one] 1 cosa que mirar
   *[other] { $count } cosas que mirar
}
cover-past = el día es hoy o ya pasó
cover-alike = nombre parecido al de { $order }
pack-place = Lugar en las pilas
pack-place-of = N.º { $number }: caras { $first } a { $last }, etiquetas { $labels }
