// A few facts: each a word and its value.

export type Fact = [word: string, value: string];

export function Facts({ list, panel }: { list: Fact[]; panel?: boolean }) {
  return (
    <dl class={panel ? "facts panel" : "facts"}>
      {list.map(([word, value]) => (
        <div key={word}>
          <dt>{word}</dt>
          <dd>{value}</dd>
        </div>
      ))}
    </dl>
  );
}
