// A formula as on a blackboard: R_L is written with a subscript.

export function Formula({ text }: { text: string }) {
  return <>{text.split(/(_\w+)/).map((part, i) => (part.startsWith("_") ? <sub key={i}>{part.slice(1)}</sub> : part))}</>;
}
