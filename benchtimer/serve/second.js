"use strict";
// Asks for the bench once a second, shows it, and sounds its alarms. It sends nothing but the question.
(() => {
  const ASK_MS = 1000, PATIENCE_MS = 4000, LOST_MS = 6000;
  const repeat = { due: 1000 * document.body.dataset.due, overdue: 1000 * document.body.dataset.overdue };
  const main = document.querySelector("main"), lost = document.getElementById("lost"), button = document.getElementById("sound");
  const known = new Set();
  let sound = null, next = 0, seen = Date.now();
  window.rings = []; // what was sounded, for whoever looks

  // Two partials a fifth apart, between 500 and 2500 Hz: level when due, rising when overdue.
  function ring(level) {
    window.rings.push(level);
    if (!sound) return;
    const over = level === "overdue", count = over ? 5 : 3, on = over ? 0.4 : 0.3;
    for (let number = 0; number < count; number++) {
      const start = sound.currentTime + 0.05 + number * 0.5;
      for (const times of [1, 1.5]) {
        const tone = sound.createOscillator(), loud = sound.createGain();
        tone.frequency.setValueAtTime((over ? 600 : 800) * times, start);
        if (over) tone.frequency.linearRampToValueAtTime(1500 * times, start + on);
        loud.gain.setValueAtTime(0, start);
        loud.gain.linearRampToValueAtTime(0.45, start + 0.03);
        loud.gain.setValueAtTime(0.45, start + on - 0.03);
        loud.gain.linearRampToValueAtTime(0, start + on);
        tone.connect(loud).connect(sound.destination);
        tone.start(start);
        tone.stop(start + on);
      }
    }
    if (navigator.vibrate) navigator.vibrate(over ? [400, 100, 400, 100, 400] : [300]);
  }

  function call(level, about) {
    const now = Date.now(), fresh = about.some((one) => !known.has(one));
    known.clear();
    about.forEach((one) => known.add(one));
    document.title = level ? (level === "overdue" ? "!!! " : "! ") + "benchtimer" : "benchtimer";
    if (!level) { next = 0; return; }
    if (fresh || now >= next) { next = now + repeat[level]; ring(level); }
  }

  function missing() {
    if (Date.now() - seen < LOST_MS) return;
    lost.textContent = "NO CONNECTION since " + new Date(seen).toLocaleTimeString() + ". What you see is old. Go to the bench.";
    lost.hidden = false;
    call("overdue", ["no connection"]);
  }

  async function ask() {
    try {
      const answer = await fetch(location.pathname + "now", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
      if (!answer.ok) throw new Error(answer.status);
      const told = await answer.json();
      main.innerHTML = told.html; // made by the bench, every text in it escaped
      seen = Date.now();
      lost.hidden = true;
      call(told.level, told.about);
    } catch (error) {
      missing();
    }
    setTimeout(ask, ASK_MS);
  }

  button.addEventListener("click", async () => {
    sound = sound || new AudioContext();
    await sound.resume();
    button.textContent = "SOUND ON. TOUCH TO HEAR IT";
    button.classList.add("on");
    ring("due");
  });
  ask();
})();
