// Sound, vibration and a screen that stays on: what reaches a person who looks
// at a meter. Each may be missing on a phone, so none is the only signal.
import { prefs } from "../data/prefs";

let audio: AudioContext | null = null;

/** Call inside a tap: browsers let a page make sound only after one. */
export function unlockSound(): void {
  if (!prefs.value.sound || typeof AudioContext === "undefined") return;
  const session = (navigator as { audioSession?: { type: string } }).audioSession;
  if (session) session.type = "playback"; // heard despite a phone's mute switch
  audio ??= new AudioContext();
  if (audio.state !== "running") void audio.resume().catch(() => undefined); // then the screen alone tells
}

/** A tone that starts and ends softly, so that it does not click. */
function beep(hertz: number, ms: number): void {
  if (!prefs.value.sound || audio?.state !== "running") return;
  const start = audio.currentTime;
  const end = start + ms / 1000;
  const tone = audio.createOscillator();
  const level = audio.createGain();
  tone.frequency.value = hertz;
  level.gain.setValueAtTime(0, start);
  level.gain.linearRampToValueAtTime(0.5, start + 0.01);
  level.gain.setValueAtTime(0.5, end - 0.02);
  level.gain.linearRampToValueAtTime(0, end);
  tone.connect(level).connect(audio.destination);
  tone.start(start);
  tone.stop(end);
}

export function buzz(pattern: number | number[]): void {
  // Before the first touch a browser refuses it and complains.
  if (prefs.value.vibrate && navigator.userActivation?.hasBeenActive) navigator.vibrate?.(pattern);
}

export const tick = () => beep(880, 70);
export const signalConnect = () => {
  beep(660, 350);
  buzz(200);
};
export const signalRead = () => {
  beep(1320, 700);
  buzz([300, 100, 300]);
};
export const signalAlarm = () => {
  beep(440, 400);
  buzz([100, 50, 100, 50, 100]);
};

/** Keeps the screen on until the returned function is called. */
export function keepAwake(): () => void {
  let lock: WakeLockSentinel | null = null;
  let wanted = true;
  const ask = async () => {
    if (!wanted || document.visibilityState !== "visible" || !navigator.wakeLock) return;
    try {
      lock = await navigator.wakeLock.request("screen");
      if (!wanted) await lock.release();
    } catch {
      lock = null; // low battery mode refuses it; the clock goes by timestamps anyway
    }
  };
  document.addEventListener("visibilitychange", ask);
  void ask();
  return () => {
    wanted = false;
    document.removeEventListener("visibilitychange", ask);
    void lock?.release();
  };
}
