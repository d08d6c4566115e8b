// Step 2: what can hurt.
import { cautionsStep } from "../cautions";
import { StepFrame, type StepProps } from "./step";

export function Cautions(p: StepProps) {
  return <StepFrame {...p} {...cautionsStep(() => p.change({ step: "circumstances" }))} />;
}
