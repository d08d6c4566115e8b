// Step 7: rest, then repeat or finish.
import { count } from "../../ui/format";
import { Rest } from "./rest";
import { StepFrame, type StepProps } from "./step";

export function Between(p: StepProps) {
  const done = p.draft.open.length;
  const planned = p.team.repeats;
  const again = () => p.change({ step: "open", connectedAt: null, missed: false });
  const finish = () => p.change({ step: "result" });
  const takeOut = (i: number) =>
    p.change({
      open: p.draft.open.filter((_, at) => at !== i),
      loaded: p.draft.loaded.filter((_, at) => at !== i),
      ...(done === 1 && { step: "open" as const }),
    });
  const enough = done >= planned;
  return (
    <StepFrame
      {...p}
      title={enough ? `${count(done, "reading")} done` : `Reading ${done} of ${planned} done`}
      dock={
        enough ? (
          <>
            <button type="button" class="button" onClick={again}>
              One more
            </button>
            <button type="button" class="button main" onClick={finish}>
              See the result
            </button>
          </>
        ) : (
          <>
            <button type="button" class="button" onClick={finish}>
              Finish now
            </button>
            <button type="button" class="button main" onClick={again}>
              Next reading
            </button>
          </>
        )
      }
    >
      {!enough && <Rest {...p} over="Rested enough for the next reading." />}
      <table>
        <caption>As typed</caption>
        <thead>
          <tr>
            <th scope="col">Reading</th>
            <th scope="col" class="num">
              Load off
            </th>
            <th scope="col" class="num">
              Load on
            </th>
            <td />
          </tr>
        </thead>
        <tbody>
          {p.draft.open.map((text, i) => (
            <tr key={i}>
              <th scope="row">{i + 1}</th>
              <td class="num">{text} V</td>
              <td class="num">{p.draft.loaded[i]} V</td>
              <td class="num">
                <button type="button" class="link" onClick={() => takeOut(i)}>
                  Take out<span class="unseen"> reading {i + 1}</span>
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      {done === 1 && <p class="small quiet">One reading says nothing about scatter. Three make a sound test.</p>}
    </StepFrame>
  );
}
