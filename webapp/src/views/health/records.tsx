// Repairs and wiggle tests on record; a mistaken one can be voided.
import { restore, useAction, voidEntry } from "../../ui/action";
import { quantity, when } from "../../ui/format";
import { Failed } from "../../ui/notice";
import { UnsentTag } from "../../ui/unsenttag";
import { type ComponentChildren } from "preact";
import type { Pack, PackRepair, PackWiggle } from "../model";
import { repairWord } from "../repairwords";
import { Fold } from "../result";
import { placeWord } from "../wiggle/places";
import { dayOf } from "./words";

export function Records({ pack }: { pack: Pack }) {
  return (
    <>
      {pack.repairs.length > 0 && (
        <Fold title={`Repairs: ${pack.repairs.length}`}>
          <ul class="items">
            {pack.repairs.map((repair) => (
              <Line key={repair.entry} code={pack.code} stamp={repair} what="repair">
                <p class={repair.voided ? "struck" : ""}>
                  <strong>{repairWord[repair.part]}</strong>, {dayOf(repair.at_ms)}: {repair.text}
                </p>
                {repair.baseline && !repair.voided && <p class="small quiet">Tests since then are compared anew.</p>}
              </Line>
            ))}
          </ul>
        </Fold>
      )}
      {pack.wiggles.length > 0 && (
        <Fold title={`Wiggle tests: ${pack.wiggles.length}`}>
          <ul class="items">
            {pack.wiggles.map((wiggle) => (
              <Line key={wiggle.entry} code={pack.code} stamp={wiggle} what="wiggle test">
                <p class={wiggle.voided ? "struck" : ""}>
                  <strong>{dayOf(wiggle.at_ms)}</strong>, load {quantity(wiggle.load_ohm, "Ω")}
                </p>
                <ul class="bullets small">
                  {wiggle.spots.map((spot) => (
                    <li key={spot.place}>
                      {placeWord[spot.place].name}: {spot.low_v} V to {spot.high_v} V
                    </li>
                  ))}
                </ul>
                {wiggle.note && <p>{wiggle.note}</p>}
              </Line>
            ))}
          </ul>
        </Fold>
      )}
    </>
  );
}

function Line({ code, stamp, what, children }: { code: string; stamp: PackRepair | PackWiggle; what: string; children: ComponentChildren }) {
  const act = useAction();
  const voiding = stamp.voided_by;
  return (
    <li>
      {children}
      <div class="row spread">
        <span class="small quiet">
          {when(stamp.at_ms)}
          {stamp.by && ` · ${stamp.by}`}
          {stamp.voided && " · voided"}
          <UnsentTag ids={[stamp.entry]} />
        </span>
        {stamp.voided && voiding ? (
          <button type="button" class="link" onClick={() => act.run(() => restore(code, voiding))}>
            Bring back<span class="unseen"> {what}</span>
          </button>
        ) : (
          <button type="button" class="link" onClick={() => act.run(() => voidEntry(code, stamp.entry, `Voided: ${what}`))}>
            Void as mistaken<span class="unseen"> {what}</span>
          </button>
        )}
      </div>
      <Failed what="Not saved" complaint={act.failed.value} />
    </li>
  );
}
