"""Who may sign what, and which checkpoint holds: docs/format.md sections 3 and 4."""
from entry import thumbprint
from strict import good_key, need, read_vkey, signed, unb64

ENROLLING = ("key-enrolment", "key-retirement", "checkpoint-key")


class Keys:
    def __init__(self, say):
        self.say, self.people, self.checkpoint = say, {}, []

    def fresh(self, raw):
        need(good_key(raw), "the key is no good point", "key-refused")
        used = [key["raw"] for key in self.people.values()] + [key[2] for key in self.checkpoint]
        need(raw not in used, "the key serves already", "key-doubled")

    def enrol(self, entry, may):
        thumb, raw = thumbprint(entry.open("jwk")), unb64(entry.open("jwk")["x"])
        need(may is None or entry.sub == "key/" + thumb, "the key has another name", "key-refused")
        self.fresh(raw)
        self.people[thumb] = {"raw": raw, "may": may, "enrols": may is None or "enrol" in may,
                              "by": entry.kid, "since": entry.index, "until": None, "doubt": None}

    def add_checkpoint_key(self, entry):
        key_id, raw = read_vkey(entry.open("checkpointKey"), entry.iss)
        self.fresh(raw)
        self.checkpoint.append((entry.index, key_id, raw, entry.open("why")))

    def take(self, entry):
        """One entry after the other. What it says of keys is put in force, if its signer may."""
        need(entry.index or entry.kind == "founding", "entry 0 is no founding", "bad-founding")
        need(not entry.index or entry.kind != "founding", "a second founding", "second-founding")
        if entry.index == 0:
            need(entry.sub == "ledger" and entry.open("origin") == entry.iss
                 and set(entry.open("jwk", {})) == {"crv", "kty", "x"},
                 "its subject or fields", "bad-founding")
            self.enrol(entry, None)
            self.add_checkpoint_key(entry)
        signer = self.people.get(entry.kid)
        need(signer, "signed by a key that was not enrolled before", "key-unknown")
        need(signed(signer["raw"], entry.signature, entry.jws.rpartition(".")[0].encode()),
             "the signature does not fit", "broken-signature")
        need(signer["until"] is None, "its key was retired before", "key-retired")
        if entry.kind in ENROLLING:
            self.change(entry, signer)
        else:
            need(signer["may"] is None or entry.kind in signer["may"],
                 "its key may not record " + entry.kind, "key-without-right")

    def change(self, entry, signer):
        own = entry.kind == "key-retirement" and entry.sub == "key/" + entry.kid
        need(own or signer["enrols"], "its signer may not enrol", "enrol-right")
        if entry.kind == "key-enrolment":
            may = entry.open("may")
            need(isinstance(may, list), "may is no list", "key-refused")
            self.enrol(entry, may)
        elif entry.kind == "checkpoint-key":
            need(entry.sub == "ledger", "a checkpoint key stands on ledger", "key-refused")
            self.add_checkpoint_key(entry)
        else:
            key, doubt = self.people.get(entry.sub[4:]), entry.open("suspectFrom")
            need(key and key["until"] is None, "it retires no key in force", "key-refused")
            need(doubt is None or type(doubt) is int, "suspectFrom is no number")
            others = [k for k in self.people.values() if k is not key and k["until"] is None]
            need(any(k["enrols"] for k in others) or not key["enrols"],
                 "it is the last that may enrol", "last-enroller")
            key.update(until=entry.index, doubt=doubt)

    def suspects(self, entries):
        """K6. A key comes later in the list than the one that enrolled it."""
        for key in self.people.values():
            since = self.people.get(key["by"], key)["doubt"]
            if since is not None and key["since"] and key["since"] >= since:
                key.update(doubt=0, until=None)
        for entry in entries:
            key = self.people.get(entry.kid)
            if key and key["doubt"] is not None and key["doubt"] <= entry.index != key["until"]:
                self.say("key-suspect", "entry %d" % entry.index)

    def check(self, note, origin, end=None):
        """A checkpoint by the key in force; by the one before too, if it is the first behind it.
        False: larger than `end`, by a later key that the file cannot know."""
        need(note.origin == origin, "the checkpoint is of %.60r" % note.origin, "wrong-origin")
        force, good = [key for key in self.checkpoint if key[0] < note.size], set()
        for name, key_id, signature in note.lines:
            for since, known, raw, _ in self.checkpoint if name == origin else ():
                if known == key_id and since not in good:
                    need(signed(raw, signature, note.text), "its signature", "checkpoint-forged")
                    good.add(since)
        if end is not None and note.size > end and not good:
            return False
        need(force and force[-1][0] in good, "not by the key in force", "checkpoint-key")
        first = len(force) > 1 and note.size == force[-1][0] + 1
        if first and force[-1][3] not in ("lost", "stolen"):
            need(force[-2][0] in good, "not by the key before", "checkpoint-key")
        return True
