// A pack's code: as the square that a camera reads, large enough to type from
// across the bench, and as paper.
import { reachable } from "../data/status";
import { labelText } from "../ui/labeltext";
import { later } from "../ui/later";
import { Notice } from "../ui/notice";
import { Panel, Screen } from "../ui/screen";
import { LabelAddress } from "./labeladdress";
import { askedBase, labelBase } from "./labelbase";
import { NoPack } from "./nopack";
import { usePack } from "./packdata";
import { PDF } from "./pdf";

const QR = later(async () => (await import("../ui/qr")).QR);

export function ShowLabel({ code }: { code: string }) {
  const { pack, complaint } = usePack(code);
  if (!pack) return <NoPack code={code} complaint={complaint} />;
  const base = labelBase();
  return (
    <Screen title={`Label of ${pack.name || code}`} back={[`/p/${code}`, pack.name || code]}>
      <QR text={labelText(base, code)} />
      <p class="big-code">{code}</p>
      <p>Scan the square with another phone, or type the code there under Scan, in capitals or not. Its last character checks the others.</p>
      <Panel title="On paper">
        {reachable.value === false ? (
          <Notice>
            <strong>The server cannot be reached, so the label cannot be printed now.</strong>
            <p>Write the code on tape until then. The pack can be tested without a label.</p>
          </Notice>
        ) : (
          <>
            <LabelAddress />
            <PDF
              key={base}
              name="labels"
              what="label as PDF"
              query={[
                ["pack", code],
                ["base-url", askedBase()],
              ]}
            />
          </>
        )}
        <p>
          More labels on one sheet, other sizes and a used sheet's start: <a href="/paper">Paper</a>.
        </p>
      </Panel>
    </Screen>
  );
}
