/*
 * Proofs as C2SP tlog-proof.md writes them down, and a whole small log. Sources:
 *   - transparency-dev/tessera testdata: a log of 15 entries with its public test key;
 *   - a proof for its entry 7, cosigned by a witness (seed 00 01 .. 1f, time 1700000000), made and
 *     verified with Go's x/mod before this program was written;
 *   - transparency-dev/formats proof/tlog_proof_test.go, torchwood proof_test.go: bad ones.
 */
#include <criterion/criterion.h>
#include <string.h>

#include "bytes_of.h"
#include "merkle.h"
#include "note.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define DASH "\xE2\x80\x94 "
#define ROOT64 "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU="

static struct mb_vkey vkey_of(const char *text)
{
    struct mb_error err = { 0 };
    struct mb_vkey vkey;

    cr_assert_eq(mb_vkey_read(mb_str_of(text), &vkey, &err), MB_OK, "%s: %s", text, err.text);
    return vkey;
}

static enum mb_note_answer signed_by(mb_arena *arena, const char *bytes, const char *vkey_text,
                                     int64_t *seen)
{
    struct mb_vkey vkey = vkey_of(vkey_text);
    struct mb_error err = { 0 };
    struct mb_note note;

    cr_assert_eq(mb_note_read(arena, mb_str_of(bytes), &note, &err), MB_OK, "%s", err.text);
    return mb_note_signed_by(&note, &vkey, seen);
}

/* ---- the log of 15 entries ---- */

#define LOG_ORIGIN "example.com/log/testdata"
#define LOG_VKEY LOG_ORIGIN "+33d7b496+AeHTu4Q3hEIMHNqc6fASMsq3rKNx280NI+oO5xCFkkSx"
#define LOG_SECRET "AeymY/SZAX0jZcJ8enZ5FY1Dz+wTML2yWSkK+9DSF3eg"

/* size = index: the entry that made it, its leaf hash, the root and the log's signature */
static const struct {
    const char *entry, *leaf, *root, *signature;
} log15[] = {
    { NULL, NULL, "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=",
      "M9e0lhxJACzE1KoUdqKuPa+9p6R7dSW8BlEvrg/noo8FkGg6PbJoRNOcdjqj"
      "Oq89wVvTA60eubCc4oufo5BvIVEgtQc=" },
    { "one", "d0d7360ab79f58ab1e1e3fe64ad77e2ea0bc07e36b5f46ed2223edd9298df9e9",
      "0Nc2CrefWKseHj/mStd+LqC8B+NrX0btIiPt2SmN+ek=",
      "M9e0lhr9kuLxGdAtaUrhm84TQffVsLdcy808sN0a3WyniNlfcr9+bywoiIke"
      "1YYciCNjJGkCgIlQ8b16jhsmg/SChAM=" },
    { "two", "ab1ab7f07c7c8fe0eff4ba6faa53c7e4412e91a599153e8aa4e01beece5b7825",
      "T1X2GdkhUjV3iyufF9b0kVsWFxIU0VI4EpNml2Teci4=",
      "M9e0llH4NKmlf0u7C8tkJioQOmi7l5ELqljXgKRg6R3G5JJ7vx7emDWo5fpq"
      "KuA/Dk/jRrI6il+7QCVirNhyUAWGoAk=" },
    { "three", "671f146c5e471e8a1a83a3c214ce4ba907b8f3a5888d14cc8cd3ce75bb12ef94",
      "Wqx3HImawpLnS/Gv4ubjAvi1WIOy0b8Ze0amvqbavKk=",
      "M9e0lvAQRtH832pk2RTbeSeZMkp4FZSdJYFBUjO5SKxuRbywPUF3cx+HUrb5"
      "0kjd3rUWW/fj53Wj1dwcwh9bGQnqVAg=" },
    { "four", "f715ab3faa5d071e6e2ac4bb994d5bf735943dcc3799da0d085e7980cfb9336a",
      "zY1lN35vrXYAPixXSd59LsU29xUJtuW4o2dNNg5Y2Co=",
      "M9e0lnFuWt0cp60moO4jAkeXvMNLIIOGn4WdyeHQurBt9mBi0tWdfkldiAt9"
      "k0FpwuZymvttsVn9uwyouXU3vPpeNAc=" },
    { "five", "ccc29ae0e02a77b0f4578c1ac17493d79cf4262104929ac804f91fc4e7ac5af0",
      "gy5gl3aksFyiCO95a/1vLXz88A3dRq+0l9Sxte8ZqZQ=",
      "M9e0lmn5eDHyHP10zJObZdFAX2y1V8fdDKBi4IiHbDYf1TCUBwxZOhqwv2QZ"
      "Cqrdda2zTRTrmnwjwscN5RBTEmZUYAs=" },
    { "six", "ca233e7a26b8c35c2c93f524c7b905e7a2105640d6dcc594694cff56d26efb25",
      "a6sWvsc2eEzmj72vah7mZ5dwFltivehh2b11qwlp5Jg=",
      "M9e0ln+nHSdGSHEZBcjvqyYDXDbG8WxDwCDjbbGAMv/NTynAtJWhckSXIpuw"
      "pN3yJ4PTtzUbD34YGqIZr6RgJRn16gU=" },
    { "seven", "d90d0fe63491f93764c1d5d6cb1f866c1597d0a65b359916cc28f24cf4a8cecc",
      "IrSXADBqJ7EQoUODSDKROySgNveeL6CFhik2w/+fS7U=",
      "M9e0luA5JhTRUki/BBQD0QNiH6AEJ2pdtsA5CQjqJErViuuKrN6513RCTL26"
      "40wXJv0dCed3neRGI6dMzBq9uANf2Qc=" },
    { "eit", "4e1720a15d8361c2be542c4150358094dc662f2dabeddabb74aefe3a5810296b",
      "bC+VwvrJbalNVjfkdI8kUgs7mJoXrqiXCE7bgnD28pY=",
      "M9e0lq1EK37dHtgv9O3UzPxisw5vwIPcJsX9ab0xt4mvVfbdUR1fbMjN6sBF"
      "YpBoBEmD4+cWhj/AVgI5MitCO5+mews=" },
    { "nain", "f751d0a9a3f35a56c1b140e4dc9bd2a4e4caec173889f646c576737c004e9ae5",
      "CvhHViE3S9E3htHLR+25mapWoGCJ3WckMq1UtC3VmEY=",
      "M9e0ls3mdnWX0qk4P3uGG0eYiFRWSwPR+RdeD1ARmrHPHjXP0x9UJWASPFTO"
      "TqJo0mp7Epck2O9RFB0J9IjDdAewagw=" },
    { "ten", "1d397d3d1902b011c12620ec8276f13ccf813f9a15dc7b077db2e2f0ca09077d",
      "y8/gZsZCtitsMan09tY+k8I7Qpr7Y5fbO2tLi9GQnfU=",
      "M9e0lrmwaVEOWFZ+HS5ITnRd2YMOSWE5QeoYu+6DHwJLnJ+SVeJ2ZiYeD7lV"
      "C5oGJx76gbfLSyCUEq6D8JkarrsuiQQ=" },
    { "ileven", "bb2d8c46edf697d5733185e694b4ee2c1d04b84222c9fcb4d8a5d0a2fecfed33",
      "Yok1cS5VdokGLBy73BC2I16b3atss6KBN9jnIi6Fz/A=",
      "M9e0lqbRtWirJwbUy4w3VrK2RyzfW8P+OIkc8t6b6AVG/tQd1Q2SN+uCLYzN"
      "NFnf/PhzeCdURSGQe1MRnohCxPu21wg=" },
    { "twelf", "3bad5c1c0eb3037ca7261ecfcdd10fadf07c684d580560819c970d22979478fb",
      "uZo6M+IhVna+CLgWCrJs0xBPUHbozHkYTQASduHSLME=",
      "M9e0lrFzoTgi+ovhrqX0DpsEAp3wLu1coMLIkeCwSkGfS4Ox4pLXo2LHudqm"
      "4merh0ZkCNzHr8kQwq5gS5mmimIvdA4=" },
    { "threeten", "a5f4fecc9f63c361fe39bd564bc86137bc23637e77194d6682680c84a7eb9ad5",
      "av0kLH0VkkVDrTuZzBGIx7d9z5G1l/GlKz/nAV/8woQ=",
      "M9e0liO8x8xfEOGmZVYODUjQajkEpjccPQ9EkG3yEEDet4K3BWE/DFRPH6H+"
      "b6gFFFaG5KS1bBmYS/xeZJs8lj+z+wM=" },
    { "fourten", "b6c94e61bdb317e092f2f4d4494ae0ea49069def34864e39e5c8cf65779a495f",
      "SvCd38yNade7xEPY1a/aAc1M3A2AHYVF8lIiUnsH1ao=",
      "M9e0lu8roIpjC+NXEG7JDkajIahoYDYWgxDtxfx/6rzLoztU9t/PvivZ48xt"
      "8ygJpjzaboSpkbVv3Jb+D3NdXWQf5wo=" },
    { "fivten", "3786dc18e75f450d499f119c1eaee20dd8293f21fc9d08714a18d72b1cd60eb5",
      "rKbDipCvhuX1GZ7g5BBe8sA6BbJ7ja/1nk427v383cs=",
      "M9e0luh4jTG+UMBqOUo9/q+yAEvx1ilBEniMvjf1zfcBOhg+CKubMt53MvIt"
      "/uEWP6zdkdIQzd/fmwlM/dlPWF74ewI=" },
};

static mb_secret *log_secret(void)
{
    uint8_t bytes[33];

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    cr_assert(mb_b64_read_exact(MB_STR(LOG_SECRET), bytes, sizeof bytes));
    return mb_secret_from_seed(bytes + 1);
}

Test(tlog, the_log_of_15_entries_is_made_again_to_the_byte)
{
    mb_arena *arena = mb_arena_new();
    mb_secret *secret = log_secret();
    struct mb_edge edge = { 0 };

    for (size_t size = 0; size < COUNT(log15); size++) {
        struct mb_checkpoint checkpoint = { .origin = MB_STR(LOG_ORIGIN), .size = size }, read;
        struct mb_note note;
        char *text, *want, *made;

        if (size) {
            struct mb_hash leaf = mb_leaf_hash(mb_str_of(log15[size].entry));
            struct mb_hash published_leaf = hash_of_hex(log15[size].leaf);

            cr_expect(mb_hash_equal(&leaf, &published_leaf));
            cr_assert_eq(mb_edge_push(&edge, &leaf, NULL, NULL, NULL), MB_OK);
        }
        checkpoint.root = mb_edge_root(&edge);
        text = mb_checkpoint_text(arena, &checkpoint);
        want = mb_arena_printf(arena, LOG_ORIGIN "\n%zu\n%s\n\n" DASH LOG_ORIGIN " %s\n", size,
                               log15[size].root, log15[size].signature);
        made = mb_arena_printf(arena, "%s\n%s", text,
                               mb_note_sign(arena, mb_str_of(text), MB_STR(LOG_ORIGIN), secret));
        cr_expect_str_eq(made, want);
        cr_expect_eq(signed_by(arena, want, LOG_VKEY, NULL), MB_NOTE_SIGNED);
        cr_assert_eq(mb_note_read(arena, mb_str_of(want), &note, NULL), MB_OK);
        cr_assert_eq(mb_checkpoint_read(note.text, &read, NULL, NULL), MB_OK);
        cr_expect(read.size == size && mb_hash_equal(&read.root, &checkpoint.root));
    }
    mb_secret_free(secret);
    mb_arena_free(arena);
}

/* ---- tlog-proof ---- */

#define WITNESS_VKEY "witness.example/w1+e75f6532+BAOhB7/zzhC+HXDdGOdLwJln5NYwm6UNXx3chmQSVTG4"
#define CHECKPOINT15 LOG_ORIGIN "\n15\nrKbDipCvhuX1GZ7g5BBe8sA6BbJ7ja/1nk427v383cs=\n"
#define LOG_LINE15                                                                                \
    DASH LOG_ORIGIN " M9e0luh4jTG+UMBqOUo9/q+yAEvx1ilBEniMvjf1zfcBOhg+CKubMt53MvIt/uEWP6zdkdIQzd" \
                    "/fmwlM/dlPWF74ewI=\n"
#define WITNESS_LINE15                                                                            \
    DASH "witness.example/w1 519lMgAAAABlU/EA8Ksalh7kTmlIFPRO/50jC8JyWktgWjbjpb8ZCaY7/1Pyo/Js5iv" \
         "0m/SL/Pgn8ExkAr34GAbhHPwm6x2I0VpoBA==\n"
#define PATH7                                        \
    "2Q0P5jSR+TdkwdXWyx+GbBWX0KZbNZkWzCjyTPSozsw=\n" \
    "ycRkkNklus5eMVRUvkD1pK321vMrA+jjOiZKU8aOcY4=\n" \
    "zY1lN35vrXYAPixXSd59LsU29xUJtuW4o2dNNg5Y2Co=\n" \
    "5jLpqTgjsBDSEX6SgZiRnbTMdTuRd8bQ5tSsAOxe0Ks=\n"
#define PROOF_HEAD "c2sp.org/tlog-proof@v1\n"
#define NOTE15 CHECKPOINT15 "\n" LOG_LINE15 WITNESS_LINE15
#define PROOF7 PROOF_HEAD "index 7\n" PATH7 "\n" NOTE15

/* Everything that a reader of a proof has to check, for one entry: "" or what is wrong. */
static const char *judge(mb_arena *arena, struct mb_str bytes, struct mb_str entry,
                         const char *origin, const char *vkey)
{
    struct mb_hash leaf = mb_leaf_hash(entry);
    struct mb_checkpoint checkpoint;
    struct mb_path path = { 0 };
    struct mb_proof proof;
    struct mb_note note;

    if (mb_proof_read(arena, bytes, &proof, NULL))
        return "proof";
    if (mb_note_read(arena, proof.checkpoint, &note, NULL)
        || mb_checkpoint_read(note.text, &checkpoint, NULL, NULL))
        return "checkpoint";
    if (!mb_str_is(checkpoint.origin, origin))
        return "origin";
    if (signed_by(arena, mb_arena_copy(arena, proof.checkpoint.at, proof.checkpoint.len), vkey,
                  NULL)
        != MB_NOTE_SIGNED)
        return "signature";
    path.count = proof.count;
    memcpy(path.node, proof.nodes, proof.count * sizeof *proof.nodes);
    return mb_merkle_included(proof.index, checkpoint.size, &leaf, &path, &checkpoint.root)
               ? ""
               : "inclusion";
}

Test(tlog, the_published_proof_and_cosignature_hold_and_are_made_again)
{
    mb_arena *arena = mb_arena_new();
    mb_secret *witness = secret_of_seed(0);
    struct mb_proof proof;
    int64_t seen = 0;

    cr_expect_str_eq(mb_note_cosign(arena, MB_STR(CHECKPOINT15), MB_STR("witness.example/w1"),
                                    witness, 1700000000),
                     WITNESS_LINE15);
    cr_expect_eq(signed_by(arena, NOTE15, WITNESS_VKEY, &seen), MB_NOTE_SIGNED);
    cr_expect_eq(seen, 1700000000);
    cr_expect_str_eq(judge(arena, MB_STR(PROOF7), MB_STR("eit"), LOG_ORIGIN, LOG_VKEY), "");
    cr_assert_eq(mb_proof_read(arena, MB_STR(PROOF7), &proof, NULL), MB_OK);
    cr_expect_eq(proof.index, 7);
    cr_expect_str_eq(mb_proof_write(arena, proof.index, proof.nodes, proof.count, proof.checkpoint),
                     PROOF7);
    mb_secret_free(witness);
    mb_arena_free(arena);
}

/* proof/tlog_proof_test.go and torchwood's proof_test.go; "" stands for a good one. */
Test(tlog, a_malformed_or_misused_proof_is_refused)
{
    static const struct {
        const char *bytes, *entry, *origin, *wrong;
    } cases[] = {
        { PROOF_HEAD "extra AAEC\nindex 7\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "" },
        { "c2sp.org/tlog-proof@v2\nindex 7\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "proof" },
        { "c2sp.org/spicy-signature@v1\nindex 7\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "proof" },
        { "index 7\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "proof" },
        { "", "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD, "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "extra !!notbase64!!\nindex 7\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN,
          "proof" },
        { PROOF_HEAD "extra AAEC\nextra AAEC\nindex 7\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN,
          "proof" },
        { PROOF_HEAD PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "index notanumber\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "index -5\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "index 07\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "index\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "index 7\nnot base64\n\n" NOTE15, "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "index 7\nAAAAAAAAAAAAAAAAAAAAAA==\n\n" NOTE15, "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "index 7\nAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
                     "AAAAAAAAAAAAAAAAAAAA==\n\n" NOTE15,
          "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "index 7\n" PATH7, "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "index 7\n" PATH7 "\n", "eit", LOG_ORIGIN, "proof" },
        { PROOF_HEAD "index 7\n" PATH7 "\n" CHECKPOINT15, "eit", LOG_ORIGIN, "checkpoint" },
        { PROOF7, "eit", "example.com/log/other", "origin" },
        { PROOF7, "seven", LOG_ORIGIN, "inclusion" },
        { PROOF_HEAD "index 6\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "inclusion" },
        { PROOF_HEAD "index 15\n" PATH7 "\n" NOTE15, "eit", LOG_ORIGIN, "inclusion" },
        { PROOF_HEAD "index 7\n\n" NOTE15, "eit", LOG_ORIGIN, "inclusion" },
        { PROOF_HEAD "index 7\n" PATH7 "5jLpqTgjsBDSEX6SgZiRnbTMdTuRd8bQ5tSsAOxe0Ks=\n\n" NOTE15,
          "eit", LOG_ORIGIN, "inclusion" },
    };
    mb_arena *arena = mb_arena_new();
    char *many = mb_arena_text(arena, PROOF_HEAD "index 7\n");
    mb_secret *other = secret_of_seed(0x20);
    struct mb_vkey vkey = mb_vkey_make(MB_STR(LOG_ORIGIN), MB_VKEY_LOG, mb_secret_key(other));

    for (size_t i = 0; i < COUNT(cases); i++)
        cr_expect_str_eq(judge(arena, mb_str_of(cases[i].bytes), mb_str_of(cases[i].entry),
                               cases[i].origin, LOG_VKEY),
                         cases[i].wrong, "case %zu", i);
    /* signed by another key of the same name: for us an unknown signer, so nobody */
    cr_expect_str_eq(
        judge(arena, MB_STR(PROOF7), MB_STR("eit"), LOG_ORIGIN, mb_vkey_write(arena, &vkey)),
        "signature");
    for (int i = 0; i < 64; i++) /* 63 hashes are a path through 2^63 entries */
        many = mb_arena_printf(arena, "%s" ROOT64 "\n", many);
    cr_expect_str_eq(judge(arena, mb_str_of(mb_arena_printf(arena, "%s\n" NOTE15, many)),
                           MB_STR("eit"), LOG_ORIGIN, LOG_VKEY),
                     "proof");
    mb_secret_free(other);
    mb_arena_free(arena);
}
