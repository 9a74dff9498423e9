// After one has left: nothing of the stand's pages stays on this device. Recordings that wait for their way stay.

globalThis.caches?.keys().then((names) => names.filter((name) => name.startsWith("evenhand-")).forEach((name) => caches.delete(name)));
