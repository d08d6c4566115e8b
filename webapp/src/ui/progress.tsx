// How far something is that goes step by step.

export function Progress({ label, stages, here }: { label: string; stages: string[]; here: number }) {
  return (
    <ol class="progress" aria-label={label}>
      {stages.map((word, i) => (
        <li key={word} class={i < here ? "done" : i === here ? "here" : ""} aria-current={i === here ? "step" : undefined}>
          <span class="unseen">
            {word}
            {i < here && ", done"}
          </span>
        </li>
      ))}
    </ol>
  );
}
