/*
 * RFC 9901 (Selective Disclosure for JWTs): digests, and the processing of its own examples.
 *
 * Entries are SD-JWTs of one narrow form, so mb_entry_read refuses the RFC's strings as they stand
 * (another typ, ES256). They are checked in two ways: as published, by a walk of section 7.1
 * written here on our base64url, SHA-256 and JSON; and with their disclosures unchanged inside an
 * entry of ours, so that mb_entry_disclose has to find the same slots. The ES256 signatures are
 * not checked: the program knows only Ed25519.
 *
 * Source of all strings: RFC 9901 sections 4.2, 5.1, 5.2 and A.1.
 */
#include <criterion/criterion.h>
#include <string.h>

#include "bytes_of.h"
#include "forge.h"
#include "merkle.h"
#include "note.h"
#include "sha256.h"
#include "text.h"

#define RFC9901_5_1                                                                            \
    "eyJhbGciOiAiRVMyNTYiLCAidHlwIjogImV4YW1wbGUrc2Qtand0In0.eyJfc2QiOiBbIkNyUWU3UzVrcUJBSHQt" \
    "bk1ZWGdjNmJkdDJTSDVhVFkxc1VfTS1QZ2tqUEkiLCAiSnpZakg0c3ZsaUgwUjNQeUVNZmVadTZKdDY5dTVxZWha" \
    "bzdGN0VQWWxTRSIsICJQb3JGYnBLdVZ1Nnh5bUphZ3ZrRnNGWEFiUm9jMkpHbEFVQTJCQTRvN2NJIiwgIlRHZjRv" \
    "TGJnd2Q1SlFhSHlLVlFaVTlVZEdFMHc1cnREc3JaemZVYW9tTG8iLCAiWFFfM2tQS3QxWHlYN0tBTmtxVlI2eVoy" \
    "VmE1TnJQSXZQWWJ5TXZSS0JNTSIsICJYekZyendzY002R242Q0pEYzZ2Vks4QmtNbmZHOHZPU0tmcFBJWmRBZmRF" \
    "IiwgImdiT3NJNEVkcTJ4Mkt3LXc1d1BFemFrb2I5aFYxY1JEMEFUTjNvUUw5Sk0iLCAianN1OXlWdWx3UVFsaEZs" \
    "TV8zSmx6TWFTRnpnbGhRRzBEcGZheVF3TFVLNCJdLCAiaXNzIjogImh0dHBzOi8vaXNzdWVyLmV4YW1wbGUuY29t" \
    "IiwgImlhdCI6IDE2ODMwMDAwMDAsICJleHAiOiAxODgzMDAwMDAwLCAic3ViIjogInVzZXJfNDIiLCAibmF0aW9u" \
    "YWxpdGllcyI6IFt7Ii4uLiI6ICJwRm5kamtaX1ZDem15VGE2VWpsWm8zZGgta284YUlLUWM5RGxHemhhVllvIn0s" \
    "IHsiLi4uIjogIjdDZjZKa1B1ZHJ5M2xjYndIZ2VaOGtoQXYxVTFPU2xlclAwVmtCSnJXWjAifV0sICJfc2RfYWxn" \
    "IjogInNoYS0yNTYiLCAiY25mIjogeyJqd2siOiB7Imt0eSI6ICJFQyIsICJjcnYiOiAiUC0yNTYiLCAieCI6ICJU" \
    "Q0FFUjE5WnZ1M09IRjRqNFc0dmZTVm9ISVAxSUxpbERsczd2Q2VHZW1jIiwgInkiOiAiWnhqaVdXYlpNUUdIVldL" \
    "VlE0aGJTSWlyc1ZmdWVjQ0U2dDRqVDlGMkhaUSJ9fX0.MczwjBFGtzf-6WMT-hIvYbkb11NrV1WMO-jTijpMPNbs" \
    "wNzZ87wY2uHz-CXo6R04b7jYrpj9mNRAvVssXou1iw~WyIyR0xDNDJzS1F2ZUNmR2ZyeU5STjl3IiwgImdpdmVuX" \
    "25hbWUiLCAiSm9obiJd~WyJlbHVWNU9nM2dTTklJOEVZbnN4QV9BIiwgImZhbWlseV9uYW1lIiwgIkRvZSJd~WyI" \
    "2SWo3dE0tYTVpVlBHYm9TNXRtdlZBIiwgImVtYWlsIiwgImpvaG5kb2VAZXhhbXBsZS5jb20iXQ~WyJlSThaV205" \
    "UW5LUHBOUGVOZW5IZGhRIiwgInBob25lX251bWJlciIsICIrMS0yMDItNTU1LTAxMDEiXQ~WyJRZ19PNjR6cUF4Z" \
    "TQxMmExMDhpcm9BIiwgInBob25lX251bWJlcl92ZXJpZmllZCIsIHRydWVd~WyJBSngtMDk1VlBycFR0TjRRTU9x" \
    "Uk9BIiwgImFkZHJlc3MiLCB7InN0cmVldF9hZGRyZXNzIjogIjEyMyBNYWluIFN0IiwgImxvY2FsaXR5IjogIkFu" \
    "eXRvd24iLCAicmVnaW9uIjogIkFueXN0YXRlIiwgImNvdW50cnkiOiAiVVMifV0~WyJQYzMzSk0yTGNoY1VfbEhn" \
    "Z3ZfdWZRIiwgImJpcnRoZGF0ZSIsICIxOTQwLTAxLTAxIl0~WyJHMDJOU3JRZmpGWFE3SW8wOXN5YWpBIiwgInVw" \
    "ZGF0ZWRfYXQiLCAxNTcwMDAwMDAwXQ~WyJsa2x4RjVqTVlsR1RQVW92TU5JdkNBIiwgIlVTIl0~WyJuUHVvUW5rU" \
    "kZxM0JJZUFtN0FuWEZBIiwgIkRFIl0~"

#define RFC9901_5_2                                                                            \
    "eyJhbGciOiAiRVMyNTYiLCAidHlwIjogImV4YW1wbGUrc2Qtand0In0.eyJfc2QiOiBbIkNyUWU3UzVrcUJBSHQt" \
    "bk1ZWGdjNmJkdDJTSDVhVFkxc1VfTS1QZ2tqUEkiLCAiSnpZakg0c3ZsaUgwUjNQeUVNZmVadTZKdDY5dTVxZWha" \
    "bzdGN0VQWWxTRSIsICJQb3JGYnBLdVZ1Nnh5bUphZ3ZrRnNGWEFiUm9jMkpHbEFVQTJCQTRvN2NJIiwgIlRHZjRv" \
    "TGJnd2Q1SlFhSHlLVlFaVTlVZEdFMHc1cnREc3JaemZVYW9tTG8iLCAiWFFfM2tQS3QxWHlYN0tBTmtxVlI2eVoy" \
    "VmE1TnJQSXZQWWJ5TXZSS0JNTSIsICJYekZyendzY002R242Q0pEYzZ2Vks4QmtNbmZHOHZPU0tmcFBJWmRBZmRF" \
    "IiwgImdiT3NJNEVkcTJ4Mkt3LXc1d1BFemFrb2I5aFYxY1JEMEFUTjNvUUw5Sk0iLCAianN1OXlWdWx3UVFsaEZs" \
    "TV8zSmx6TWFTRnpnbGhRRzBEcGZheVF3TFVLNCJdLCAiaXNzIjogImh0dHBzOi8vaXNzdWVyLmV4YW1wbGUuY29t" \
    "IiwgImlhdCI6IDE2ODMwMDAwMDAsICJleHAiOiAxODgzMDAwMDAwLCAic3ViIjogInVzZXJfNDIiLCAibmF0aW9u" \
    "YWxpdGllcyI6IFt7Ii4uLiI6ICJwRm5kamtaX1ZDem15VGE2VWpsWm8zZGgta284YUlLUWM5RGxHemhhVllvIn0s" \
    "IHsiLi4uIjogIjdDZjZKa1B1ZHJ5M2xjYndIZ2VaOGtoQXYxVTFPU2xlclAwVmtCSnJXWjAifV0sICJfc2RfYWxn" \
    "IjogInNoYS0yNTYiLCAiY25mIjogeyJqd2siOiB7Imt0eSI6ICJFQyIsICJjcnYiOiAiUC0yNTYiLCAieCI6ICJU" \
    "Q0FFUjE5WnZ1M09IRjRqNFc0dmZTVm9ISVAxSUxpbERsczd2Q2VHZW1jIiwgInkiOiAiWnhqaVdXYlpNUUdIVldL" \
    "VlE0aGJTSWlyc1ZmdWVjQ0U2dDRqVDlGMkhaUSJ9fX0.MczwjBFGtzf-6WMT-hIvYbkb11NrV1WMO-jTijpMPNbs" \
    "wNzZ87wY2uHz-CXo6R04b7jYrpj9mNRAvVssXou1iw~WyJlbHVWNU9nM2dTTklJOEVZbnN4QV9BIiwgImZhbWlse" \
    "V9uYW1lIiwgIkRvZSJd~WyJBSngtMDk1VlBycFR0TjRRTU9xUk9BIiwgImFkZHJlc3MiLCB7InN0cmVldF9hZGRy" \
    "ZXNzIjogIjEyMyBNYWluIFN0IiwgImxvY2FsaXR5IjogIkFueXRvd24iLCAicmVnaW9uIjogIkFueXN0YXRlIiwg" \
    "ImNvdW50cnkiOiAiVVMifV0~WyIyR0xDNDJzS1F2ZUNmR2ZyeU5STjl3IiwgImdpdmVuX25hbWUiLCAiSm9obiJd" \
    "~WyJsa2x4RjVqTVlsR1RQVW92TU5JdkNBIiwgIlVTIl0~eyJhbGciOiAiRVMyNTYiLCAidHlwIjogImtiK2p3dCJ" \
    "9.eyJub25jZSI6ICIxMjM0NTY3ODkwIiwgImF1ZCI6ICJodHRwczovL3ZlcmlmaWVyLmV4YW1wbGUub3JnIiwgIm" \
    "lhdCI6IDE3NDg1MzcyNDQsICJzZF9oYXNoIjogIjBfQWYtMkItRWhMV1g1eWRoX3cyeHp3bU82aU02NkJfMlFDRW" \
    "FuSTRmVVkifQ.T3SIus2OidNl41nmVkTZVCKKhOAX97aOldMyHFiYjHm261eLiJ1YiuONFiMN8QlCmYzDlBLAdPv" \
    "rXh52KaLgUQ"

#define RFC9901_A_1                                                                            \
    "eyJhbGciOiAiRVMyNTYiLCAidHlwIjogImV4YW1wbGUrc2Qtand0In0.eyJfc2QiOiBbIkM5aW5wNllvUmFFWFI0" \
    "Mjd6WUpQN1FyazFXSF84YmR3T0FfWVVyVW5HUVUiLCAiS3VldDF5QWEwSElRdlluT1ZkNTloY1ZpTzlVZzZKMmtT" \
    "ZnFZUkJlb3d2RSIsICJNTWxkT0ZGekIyZDB1bWxtcFRJYUdlcmhXZFVfUHBZZkx2S2hoX2ZfOWFZIiwgIlg2WkFZ" \
    "T0lJMnZQTjQwVjd4RXhad1Z3ejd5Um1MTmNWd3Q1REw4Ukx2NGciLCAiWTM0em1JbzBRTExPdGRNcFhHd2pCZ0x2" \
    "cjE3eUVoaFlUMEZHb2ZSLWFJRSIsICJmeUdwMFdUd3dQdjJKRFFsbjFsU2lhZW9iWnNNV0ExMGJRNTk4OS05RFRz" \
    "IiwgIm9tbUZBaWNWVDhMR0hDQjB1eXd4N2ZZdW8zTUhZS08xNWN6LVJaRVlNNVEiLCAiczBCS1lzTFd4UVFlVTh0" \
    "VmxsdE03TUtzSVJUckVJYTFQa0ptcXhCQmY1VSJdLCAiaXNzIjogImh0dHBzOi8vaXNzdWVyLmV4YW1wbGUuY29t" \
    "IiwgImlhdCI6IDE2ODMwMDAwMDAsICJleHAiOiAxODgzMDAwMDAwLCAiYWRkcmVzcyI6IHsiX3NkIjogWyI2YVVo" \
    "elloWjdTSjFrVm1hZ1FBTzN1MkVUTjJDQzFhSGhlWnBLbmFGMF9FIiwgIkF6TGxGb2JrSjJ4aWF1cFJFUHlvSnot" \
    "OS1OU2xkQjZDZ2pyN2ZVeW9IemciLCAiUHp6Y1Z1MHFiTXVCR1NqdWxmZXd6a2VzRDl6dXRPRXhuNUVXTndrclEt" \
    "ayIsICJiMkRrdzBqY0lGOXJHZzhfUEY4WmN2bmNXN3p3Wmo1cnlCV3ZYZnJwemVrIiwgImNQWUpISVo4VnUtZjlD" \
    "Q3lWdWIyVWZnRWs4anZ2WGV6d0sxcF9KbmVlWFEiLCAiZ2xUM2hyU1U3ZlNXZ3dGNVVEWm1Xd0JUdzMyZ25VbGRJ" \
    "aGk4aEdWQ2FWNCIsICJydkpkNmlxNlQ1ZWptc0JNb0d3dU5YaDlxQUFGQVRBY2k0MG9pZEVlVnNBIiwgInVOSG9X" \
    "WWhYc1poVkpDTkUyRHF5LXpxdDd0NjlnSkt5NVFhRnY3R3JNWDQiXX0sICJfc2RfYWxnIjogInNoYS0yNTYifQ.E" \
    "OZa2YqK8j4i7cqBDkfPcTMaFsgPwcx3aYJkFoMfvV46LxL-PPqrWsIyNukB4x8Y2LT31eIHDc4Wg4XNzaqu4w~Wy" \
    "JHMDJOU3JRZmpGWFE3SW8wOXN5YWpBIiwgInJlZ2lvbiIsICJcdTZlMmZcdTUzM2EiXQ~WyJsa2x4RjVqTVlsR1R" \
    "QVW92TU5JdkNBIiwgImNvdW50cnkiLCAiSlAiXQ~"

#define OWN_EDDSA                                                                              \
    "eyJhbGciOiJFZERTQSIsImtpZCI6ImtQcktfcW14VldhWVZBOXd3QkY2SXVvM3ZWeno3VHhIQ1R3WEJ5Z3JTNGsi" \
    "LCJ0eXAiOiJleGFtcGxlK3NkLWp3dCJ9.eyJfc2QiOlsiTnF3N056SXJBODh0X2xtLVlSYzNDd0M4eFl0WkpuSEx" \
    "GOXpkaktVLXpZWSIsImkyXzNXNVdrUXRnMmo1QkdEMHVXbmpGVm5MekdpaUFBb0R2UE40VVhJTmsiLCJ2ZXVib2l" \
    "yNC1uUGxuLWZFMDhTSzRSWldGOTEyeHlCM1BOOXN2RE9wSGRjIl0sIl9zZF9hbGciOiJzaGEtMjU2IiwiY3VzdG9" \
    "keSI6WyJvd25lci0xIix7Ii4uLiI6IkI0Snc3UE1FVS1xelNqclYxcTlISVo2QUlpMXh2NzhjLTJEQ1BMc2lfM2c" \
    "ifV0sImlhdCI6MTcwMDAwMDAwMCwiaXNzIjoiaHR0cHM6Ly9sZWRnZXIuZXhhbXBsZS9pc3N1ZXIiLCJpdGVtIjo" \
    "iWC0wMDAxIn0.4zSlqBMIEQVaAmjA_sH1x0gRb8T3ZWQ6yYCn_mNGSAbS97ZvxMIHqirTz6hwFvXN85u12YXm8i8" \
    "MN3pMKiE1BA"

#define OWN_ED25519                                                                            \
    "eyJhbGciOiJFZDI1NTE5Iiwia2lkIjoia1ByS19xbXhWV2FZVkE5d3dCRjZJdW8zdlZ6ejdUeEhDVHdYQnlnclM0" \
    "ayIsInR5cCI6ImV4YW1wbGUrc2Qtand0In0.eyJfc2QiOlsiTnF3N056SXJBODh0X2xtLVlSYzNDd0M4eFl0Wkpu" \
    "SExGOXpkaktVLXpZWSIsImkyXzNXNVdrUXRnMmo1QkdEMHVXbmpGVm5MekdpaUFBb0R2UE40VVhJTmsiLCJ2ZXVi" \
    "b2lyNC1uUGxuLWZFMDhTSzRSWldGOTEyeHlCM1BOOXN2RE9wSGRjIl0sIl9zZF9hbGciOiJzaGEtMjU2IiwiY3Vz" \
    "dG9keSI6WyJvd25lci0xIix7Ii4uLiI6IkI0Snc3UE1FVS1xelNqclYxcTlISVo2QUlpMXh2NzhjLTJEQ1BMc2lf" \
    "M2cifV0sImlhdCI6MTcwMDAwMDAwMCwiaXNzIjoiaHR0cHM6Ly9sZWRnZXIuZXhhbXBsZS9pc3N1ZXIiLCJpdGVt" \
    "IjoiWC0wMDAxIn0.OAjxbpZh2Sog6LAPNdq9guJL0b8EKBk1V3zs_M8bOvbDUW_4JnaQsP4LnLCz3ytBUcO1U2Bc" \
    "j-cxwD4OQ9mNCQ"
/* ["K8mQBZRzRI5uvUQqoWv6oA","locality","Field 7, N wall"] */
#define OWN_D1 "WyJLOG1RQlpSelJJNXV2VVFxb1d2Nm9BIiwibG9jYWxpdHkiLCJGaWVsZCA3LCBOIHdhbGwiXQ"
#define OWN_D1_CHANGED "WyJLOG1RQlpSelJJNXV2VVFxb1d2Nm9BIiwibG9jYWxpdHkiLCJGaWVsZCA3LCBFIHdhbGwiXQ"
/* ["3JDPB96QfMxkY2zt2zjlUg","finder","A. Example"] */
#define OWN_D2 "WyIzSkRQQjk2UWZNeGtZMnp0MnpqbFVnIiwiZmluZGVyIiwiQS4gRXhhbXBsZSJd"
/* ["28RXmuKzqykyE_QruFJwbg","owner-2"] */
#define OWN_D3 "WyIyOFJYbXVLenF5a3lFX1FydUZKd2JnIiwib3duZXItMiJd"

static struct mb_str digest_text(mb_arena *arena, struct mb_str disclosure)
{
    struct mb_hash digest = mb_sha256_str(disclosure);

    return mb_b64u(arena, digest.b, sizeof digest.b);
}

static const struct {
    const char *json, *disclosure, *digest;
} hashed[] = {
    /* 4.2.1, and the same value in three more encodings */
    { "[\"_26bc4LT-ac6q2KI6cBW5es\", \"family_name\", \"M\xc3\xb6"
      "bius\"]",
      "WyJfMjZiYzRMVC1hYzZxMktJNmNCVzVlcyIsICJmYW1pbHlfbmFtZSIsICJNw7ZiaXVzIl0",
      "X9yH0Ajrdm1Oij4tWso9UzzKJvPoDxwmuEcO3XAdRC0" },
    { "[\"_26bc4LT-ac6q2KI6cBW5es\", \"family_name\", \"M\\u00f6bius\"]",
      "WyJfMjZiYzRMVC1hYzZxMktJNmNCVzVlcyIsICJmYW1pbHlfbmFtZSIsICJNXHUwMGY2Yml1cyJd",
      "BwU3T4PB1Wk6TbA1HUOm9XenJYLZfYtJGn8hMl77zwg" },
    { "[\"_26bc4LT-ac6q2KI6cBW5es\",\"family_name\",\"M\xc3\xb6"
      "bius\"]",
      "WyJfMjZiYzRMVC1hYzZxMktJNmNCVzVlcyIsImZhbWlseV9uYW1lIiwiTcO2Yml1cyJd",
      "TZjouOTrBKEwUNjNDs9yeMzBoQn8FFLPaJjRRmAtwrM" },
    { "[\n\"_26bc4LT-ac6q2KI6cBW5es\",\n\"family_name\",\n\"M\xc3\xb6"
      "bius\"\n]",
      "WwoiXzI2YmM0TFQtYWM2cTJLSTZjQlc1ZXMiLAoiZmFtaWx5X25hbWUiLAoiTcO2Yml1cyIKXQ",
      "WgTWKMWOEUwzhJXwrq2EuXN2SvhvJ_5-DvEl2DlKC_A" },
    /* 4.2.2, a list element */
    { "[\"lklxF5jMYlGTPUovMNIvCA\", \"FR\"]", "WyJsa2x4RjVqTVlsR1RQVW92TU5JdkNBIiwgIkZSIl0",
      "w0I8EKcdCtUPkGCNUrfwVp2xEgNjtoIDlOxc9-PlOhs" },
    /* 4.2.6 */
    { "[\"16_mAd0GiwaZokU26_0i0h\",\"DE\"]", "WyIxNl9tQWQwR2l3YVpva1UyNl8waTBoIiwiREUiXQ",
      "PmnlrRjhLcwf8zTDdK15HVGwHtPYjddvD362WjBLwro" },
    { "[\"fn9fN0rD-fFs2n303ZI-0c\",\"FR\"]", "WyJmbjlmTjByRC1mRnMybjMwM1pJLTBjIiwiRlIiXQ",
      "r823HFN6Ba_lpSANYtXqqCBAH-TsQlIzfOK0lRAFLCM" },
    { "[\"YIKesqOkXXNzMQtsX_-_lw\",\"UK\"]", "WyJZSUtlc3FPa1hYTnpNUXRzWF8tX2x3IiwiVUsiXQ",
      "nP5GYjwhFm6ESlAeC4NCaIliW4tz0hTrUeoJB3lb5TA" },
    /* 5.1 */
    { "[\"2GLC42sKQveCfGfryNRN9w\", \"given_name\", \"John\"]",
      "WyIyR0xDNDJzS1F2ZUNmR2ZyeU5STjl3IiwgImdpdmVuX25hbWUiLCAiSm9obiJd",
      "jsu9yVulwQQlhFlM_3JlzMaSFzglhQG0DpfayQwLUK4" },
    { "[\"eluV5Og3gSNII8EYnsxA_A\", \"family_name\", \"Doe\"]",
      "WyJlbHVWNU9nM2dTTklJOEVZbnN4QV9BIiwgImZhbWlseV9uYW1lIiwgIkRvZSJd",
      "TGf4oLbgwd5JQaHyKVQZU9UdGE0w5rtDsrZzfUaomLo" },
    { "[\"6Ij7tM-a5iVPGboS5tmvVA\", \"email\", \"johndoe@example.com\"]",
      "WyI2SWo3dE0tYTVpVlBHYm9TNXRtdlZBIiwgImVtYWlsIiwgImpvaG5kb2VAZXhhbXBsZS5jb20iXQ",
      "JzYjH4svliH0R3PyEMfeZu6Jt69u5qehZo7F7EPYlSE" },
    { "[\"eI8ZWm9QnKPpNPeNenHdhQ\", \"phone_number\", \"+1-202-555-0101\"]",
      "WyJlSThaV205UW5LUHBOUGVOZW5IZGhRIiwgInBob25lX251bWJlciIsICIrMS0yMDItNTU1LTAxMDEiXQ",
      "PorFbpKuVu6xymJagvkFsFXAbRoc2JGlAUA2BA4o7cI" },
    { "[\"Qg_O64zqAxe412a108iroA\", \"phone_number_verified\", true]",
      "WyJRZ19PNjR6cUF4ZTQxMmExMDhpcm9BIiwgInBob25lX251bWJlcl92ZXJpZmllZCIsIHRydWVd",
      "XQ_3kPKt1XyX7KANkqVR6yZ2Va5NrPIvPYbyMvRKBMM" },
    { "[\"AJx-095VPrpTtN4QMOqROA\", \"address\", {\"street_address\": \"123 Main St\", "
      "\"locality\": \"Anytown\", \"region\": \"Anystate\", \"country\": \"US\"}]",
      "WyJBSngtMDk1VlBycFR0TjRRTU9xUk9BIiwgImFkZHJlc3MiLCB7InN0cmVldF9hZGRyZXNzIjogIjEyMyBN"
      "YWluIFN0IiwgImxvY2FsaXR5IjogIkFueXRvd24iLCAicmVnaW9uIjogIkFueXN0YXRlIiwgImNvdW50cnki"
      "OiAiVVMifV0",
      "XzFrzwscM6Gn6CJDc6vVK8BkMnfG8vOSKfpPIZdAfdE" },
    { "[\"Pc33JM2LchcU_lHggv_ufQ\", \"birthdate\", \"1940-01-01\"]",
      "WyJQYzMzSk0yTGNoY1VfbEhnZ3ZfdWZRIiwgImJpcnRoZGF0ZSIsICIxOTQwLTAxLTAxIl0",
      "gbOsI4Edq2x2Kw-w5wPEzakob9hV1cRD0ATN3oQL9JM" },
    { "[\"G02NSrQfjFXQ7Io09syajA\", \"updated_at\", 1570000000]",
      "WyJHMDJOU3JRZmpGWFE3SW8wOXN5YWpBIiwgInVwZGF0ZWRfYXQiLCAxNTcwMDAwMDAwXQ",
      "CrQe7S5kqBAHt-nMYXgc6bdt2SH5aTY1sU_M-PgkjPI" },
    { "[\"lklxF5jMYlGTPUovMNIvCA\", \"US\"]", "WyJsa2x4RjVqTVlsR1RQVW92TU5JdkNBIiwgIlVTIl0",
      "pFndjkZ_VCzmyTa6UjlZo3dh-ko8aIKQc9DlGzhaVYo" },
    { "[\"nPuoQnkRFq3BIeAm7AnXFA\", \"DE\"]", "WyJuUHVvUW5rUkZxM0JJZUFtN0FuWEZBIiwgIkRFIl0",
      "7Cf6JkPudry3lcbwHgeZ8khAv1U1OSlerP0VkBJrWZ0" },
};

Test(sdjwt, disclosures_are_hashed_as_published)
{
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof hashed / sizeof hashed[0]; i++) {
        cr_expect_str_eq(forge_disclosure(arena, hashed[i].json), hashed[i].disclosure);
        cr_expect_str_eq(forge_digest(arena, hashed[i].disclosure), hashed[i].digest);
    }
    mb_arena_free(arena);
}

/* ---- RFC 9901 section 7.1, steps 3 and 4, by itself ---- */

struct walk {
    mb_arena *arena;
    struct {
        struct mb_str digest;
        const mb_json *array;
        int met;
    } shown[24];
    size_t count;
    bool bad;
};

static const mb_json *parsed(mb_arena *arena, struct mb_str b64)
{
    char *bytes = mb_arena_get(arena, b64.len + 4);
    const mb_json *json;
    size_t len;

    cr_assert(mb_b64u_read(b64, bytes, &len));
    cr_assert_eq(mb_json_read(arena, (struct mb_str){ bytes, len }, MB_JSON_STRICT, &json, NULL),
                 MB_OK);
    return json;
}

static void show(struct walk *w, struct mb_str disclosure)
{
    w->shown[w->count].digest = digest_text(w->arena, disclosure);
    w->shown[w->count].array = parsed(w->arena, disclosure);
    w->count++;
}

static const mb_json *lookup(struct walk *w, const mb_json *digest, uint32_t members)
{
    for (size_t i = 0; i < w->count; i++)
        if (mb_str_equal(w->shown[i].digest, mb_json_str(digest))) {
            w->bad = w->bad || w->shown[i].met++ || w->shown[i].array->count != members;
            return w->shown[i].array;
        }
    return NULL;
}

static mb_json *unfold(struct walk *w, const mb_json *value);

static void unfold_sd(struct walk *w, const mb_json *list, mb_json *out)
{
    MB_JSON_EACH(digest, list) {
        const mb_json *array = lookup(w, digest, 3);
        struct mb_str name = mb_json_str(mb_json_at(array, 1));

        if (!array)
            continue;
        w->bad = w->bad || !name.at || mb_json_get_str(out, name);
        mb_json_put_str(w->arena, out, name, unfold(w, mb_json_at(array, 2)));
    }
}

static mb_json *unfold(struct walk *w, const mb_json *value)
{
    mb_json *out;

    if (mb_json_is(value, MB_JSON_ARRAY)) {
        out = mb_json_array(w->arena);
        MB_JSON_EACH(child, value) {
            const mb_json *digest = mb_json_get(child, "..."), *array = lookup(w, digest, 2);

            if (!digest)
                mb_json_add(out, unfold(w, child));
            else if (array)
                mb_json_add(out, unfold(w, mb_json_at(array, 1)));
        }
        return out;
    }
    if (!mb_json_is(value, MB_JSON_OBJECT))
        return mb_json_copy(w->arena, value);
    out = mb_json_object(w->arena);
    MB_JSON_EACH(child, value) {
        if (!mb_str_is(child->name, "_sd") && !mb_str_is(child->name, "_sd_alg"))
            mb_json_put_str(w->arena, out, child->name, unfold(w, child));
    }
    unfold_sd(w, mb_json_get(value, "_sd"), out);
    return out;
}

/* The payload as a reader gets it, or NULL where section 7.1 refuses. */
static const mb_json *processed(mb_arena *arena, const char *sd_jwt)
{
    struct walk w = { .arena = arena };
    struct mb_str rest = mb_str_of(sd_jwt), jws, header, payload, one;
    mb_json *out;

    cr_assert(mb_str_cut(rest, '~', &jws, &rest));
    while (mb_str_cut(rest, '~', &one, &rest)) /* what stands behind the last one is a KB-JWT */
        show(&w, one);
    cr_assert(mb_str_cut(jws, '.', &header, &rest) && mb_str_cut(rest, '.', &payload, &rest));
    out = unfold(&w, parsed(arena, payload));
    for (size_t i = 0; i < w.count; i++)
        w.bad = w.bad || w.shown[i].met != 1;
    return w.bad ? NULL : out;
}

#define CNF                                                  \
    "\"cnf\":{\"jwk\":{\"crv\":\"P-256\",\"kty\":\"EC\","    \
    "\"x\":\"TCAER19Zvu3OHF4j4W4vfSVoHIP1ILilDls7vCeGemc\"," \
    "\"y\":\"ZxjiWWbZMQGHVWKVQ4hbSIirsVfuecCE6t4jT9F2HZQ\"}}"
#define PLAIN "\"exp\":1883000000,\"iat\":1683000000,\"iss\":\"https://issuer.example.com\""
#define ADDRESS                                                             \
    "{\"country\":\"US\",\"locality\":\"Anytown\",\"region\":\"Anystate\"," \
    "\"street_address\":\"123 Main St\"}"

static const struct {
    const char *what, *sd_jwt, *result; /* NULL: to be refused */
} examples[] = {
    { "RFC 9901 section 5.1, all disclosures", RFC9901_5_1,
      "{\"address\":" ADDRESS ",\"birthdate\":\"1940-01-01\"," CNF
      ",\"email\":\"johndoe@example.com\"," PLAIN ",\"family_name\":\"Doe\","
      "\"given_name\":\"John\",\"nationalities\":[\"US\",\"DE\"],"
      "\"phone_number\":\"+1-202-555-0101\",\"phone_number_verified\":true,\"sub\":\"user_42\","
      "\"updated_at\":1570000000}" },
    { "RFC 9901 section 5.2, as presented", RFC9901_5_2,
      "{\"address\":" ADDRESS "," CNF "," PLAIN ",\"family_name\":\"Doe\","
      "\"given_name\":\"John\",\"nationalities\":[\"US\"],\"sub\":\"user_42\"}" },
    { "RFC 9901 A.1, with decoys", RFC9901_A_1,
      "{\"address\":{\"country\":\"JP\",\"region\":\"\xe6\xb8\xaf\xe5\x8c\xba\"}," PLAIN "}" },
    { "Ed25519, D1 and D3", OWN_EDDSA "~" OWN_D1 "~" OWN_D3 "~",
      "{\"custody\":[\"owner-1\",\"owner-2\"],\"iat\":1700000000,"
      "\"iss\":\"https://ledger.example/issuer\",\"item\":\"X-0001\","
      "\"locality\":\"Field 7, N wall\"}" },
    { "Ed25519, all three", OWN_ED25519 "~" OWN_D1 "~" OWN_D2 "~" OWN_D3 "~",
      "{\"custody\":[\"owner-1\",\"owner-2\"],\"finder\":\"A. Example\",\"iat\":1700000000,"
      "\"iss\":\"https://ledger.example/issuer\",\"item\":\"X-0001\","
      "\"locality\":\"Field 7, N wall\"}" },
    { "nothing shown", OWN_EDDSA "~",
      "{\"custody\":[\"owner-1\"],\"iat\":1700000000,"
      "\"iss\":\"https://ledger.example/issuer\",\"item\":\"X-0001\"}" },
    { "D1 with one letter changed", OWN_EDDSA "~" OWN_D1_CHANGED "~", NULL },
    { "D1 twice", OWN_EDDSA "~" OWN_D1 "~" OWN_D1 "~", NULL },
};

Test(sdjwt, the_examples_give_the_published_result)
{
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof examples / sizeof examples[0]; i++) {
        const mb_json *got = processed(arena, examples[i].sd_jwt), *want = NULL;

        if (examples[i].result)
            cr_assert_eq(
                mb_json_read(arena, mb_str_of(examples[i].result), MB_JSON_STRICT, &want, NULL),
                MB_OK);
        cr_expect(mb_json_equal(got, want), "%s", examples[i].what);
    }
    mb_arena_free(arena);
}

/* The vector's key is RFC 8032 TEST 1; made with pyca/cryptography and accepted by six foreign
 * verifiers before this program was written. */
Test(sdjwt, the_ed25519_examples_are_signed_and_still_no_entries_of_ours)
{
    static const char *const examples_of_own[] = { OWN_EDDSA, OWN_ED25519 };
    mb_arena *arena = mb_arena_new();
    struct mb_key key =
        key_of_hex("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a");

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    for (size_t i = 0; i < 2; i++) {
        struct mb_str jws = mb_str_of(examples_of_own[i]), head, rest, payload, sig64;
        struct mb_error err = { 0 };
        struct mb_entry entry;
        struct mb_sig sig;

        mb_str_cut(jws, '.', &head, &rest);
        mb_str_cut(rest, '.', &payload, &sig64);
        cr_assert(mb_b64u_read_exact(sig64, sig.b, sizeof sig.b));
        cr_expect(mb_sig_ok(&key, (struct mb_str){ jws.at, head.len + 1 + payload.len }, &sig));
        sig.b[20] ^= 1;
        cr_expect_not(mb_sig_ok(&key, (struct mb_str){ jws.at, head.len + 1 + payload.len }, &sig));
        cr_expect_eq(mb_entry_read(arena, jws, &entry, &err), MB_REFUSED);
        cr_expect_str_eq(err.text, "the entry is malformed: its header's typ is not "
                                   "markerbed-entry+sd-jwt");
    }
    mb_arena_free(arena);
}

/* ---- the RFC's disclosures inside an entry of ours ---- */

static struct mb_entry carried(mb_arena *arena, const char *body, const char *tail)
{
    mb_secret *secret = secret_of_seed(0x20);
    struct mb_str jws = forge_jws(arena, secret, forge_header(arena, secret),
                                  mb_str_of(forge_payload(arena, body)));
    struct mb_error err = { 0 };
    struct mb_entry entry;

    cr_assert_eq(mb_entry_read(arena, jws, &entry, &err), MB_OK, "%s", err.text);
    cr_assert_eq(mb_entry_disclose(arena, &entry, mb_str_of(tail), &err), MB_OK, "%s", err.text);
    mb_secret_free(secret);
    return entry;
}

/* The list of digests at `member` ("" for the top) of a published payload, as our class. */
static const char *sd_of(mb_arena *arena, const char *sd_jwt, const char *member)
{
    struct mb_str jws, header, payload, rest, text;
    const mb_json *json;

    mb_str_cut(mb_str_of(sd_jwt), '~', &jws, &rest);
    mb_str_cut(jws, '.', &header, &rest);
    mb_str_cut(rest, '.', &payload, &rest);
    json = parsed(arena, payload);
    text = mb_json_write(arena, mb_json_get(member[0] ? mb_json_get(json, member) : json, "_sd"));
    return mb_arena_printf(arena, "{\"_sd\":%.*s}", MB_STR_ARG(text));
}

static const char *tail_of(const char *sd_jwt)
{
    return strchr(sd_jwt, '~') + 1;
}

static void field_is(mb_arena *arena, const struct mb_entry *entry, const char *name,
                     const char *want, enum mb_class class)
{
    enum mb_class in = MB_OWN;
    const mb_json *value = mb_entry_field(entry, name, &in);

    if (!want) {
        cr_expect_null(value, "%s", name);
        return;
    }
    cr_assert_not_null(value, "%s", name);
    cr_expect(mb_str_is(mb_json_write(arena, value), want), "%s", name);
    cr_expect_eq(in, class, "%s", name);
}

Test(sdjwt, the_rfc_disclosures_find_their_slots_in_an_entry)
{
    mb_arena *arena = mb_arena_new();
    const char *nationalities = "[{\"...\":\"pFndjkZ_VCzmyTa6UjlZo3dh-ko8aIKQc9DlGzhaVYo\"},"
                                "{\"...\":\"7Cf6JkPudry3lcbwHgeZ8khAv1U1OSlerP0VkBJrWZ0\"}]";
    const char *body = mb_arena_printf(arena, "{\"nationalities\":%s,\"sale\":%s}", nationalities,
                                       sd_of(arena, RFC9901_5_1, ""));
    struct mb_entry entry = carried(arena, body, tail_of(RFC9901_5_1));

    cr_expect_eq(entry.slot_count, 10);
    cr_expect_eq(entry.disclosure_count, 10);
    for (size_t i = 0; i < entry.disclosure_count; i++)
        cr_expect_geq(entry.disclosures[i].slot, 0);
    field_is(arena, &entry, "given_name", "\"John\"", MB_SALE);
    field_is(arena, &entry, "phone_number_verified", "true", MB_SALE);
    field_is(arena, &entry, "updated_at", "1570000000", MB_SALE);
    field_is(arena, &entry, "address", ADDRESS, MB_SALE);
    field_is(arena, &entry, "nationalities", "[\"US\",\"DE\"]", MB_OPEN);

    entry = carried(arena, body, "WyJuUHVvUW5rUkZxM0JJZUFtN0FuWEZBIiwgIkRFIl0~");
    field_is(arena, &entry, "given_name", NULL, MB_SALE);
    field_is(arena, &entry, "nationalities", "[\"DE\"]", MB_OPEN);

    /* A.1: the address's digests, decoys among them, as one class and the top's as another */
    body = mb_arena_printf(arena, "{\"private\":%s,\"sale\":%s}", sd_of(arena, RFC9901_A_1, ""),
                           sd_of(arena, RFC9901_A_1, "address"));
    entry = carried(arena, body, tail_of(RFC9901_A_1));
    cr_expect_eq(entry.slot_count, 16);
    field_is(arena, &entry, "region", "\"\xe6\xb8\xaf\xe5\x8c\xba\"", MB_SALE);
    field_is(arena, &entry, "country", "\"JP\"", MB_SALE);

    /* one that the entry does not hold is kept, to be found by the verifier */
    entry = carried(arena, body, OWN_D1 "~");
    cr_expect_eq(entry.disclosures[0].slot, -1);
    field_is(arena, &entry, "locality", NULL, MB_SALE);
    mb_arena_free(arena);
}

/* ---- a credential that is a log's entry too ---- */

/* A log of three entries whose entry 1 is the Ed25519 example; made with Go's x/mod and accepted by
 * it and, apart from it, by Python before this program was written. */
#define LOG_VKEY "ledger.example/log+a223da4c+ASmsuuFBvMrwsi4alNNNC8c2HlJtC/4SyJeUvJMilm3X"
static const char log_proof[] =
    "c2sp.org/tlog-proof@v1\nindex 1\n"
    "GOTkEmQQ7KWC8E9w7tUsfLfo0+/ohoM3fk3N5SNVspM=\n"
    "tAzO+5PBC6Y2oN9teS0T/N1HzeTH7HefiiDU/IzFWUk=\n\n"
    "ledger.example/log\n3\ndNjghGfsXunQ9S9Rn2E8CEbohg7VSUjjEAnKYC/eEeY=\n\n"
    "\xE2\x80\x94 ledger.example/log oiPaTO4p+3eGPjpAnWisi5JAudPNz0lKeacUqhCTulBGLlSBcT1wS0f3nnw9"
    "obus/aC1EKbqg3WOAY0ignkcZ+x4kwk=\n";

/* Whether the text before the first "~" is entry `index` of a log that this proof vouches for. */
static bool logged(mb_arena *arena, const char *sd_jwt, const char *proof_text, const char *key)
{
    struct mb_checkpoint checkpoint;
    struct mb_path path = { 0 };
    struct mb_proof proof;
    struct mb_vkey vkey;
    struct mb_note note;
    struct mb_str jws, rest;
    struct mb_hash leaf;

    if (!mb_str_cut(mb_str_of(sd_jwt), '~', &jws, &rest)
        || mb_proof_read(arena, mb_str_of(proof_text), &proof, NULL)
        || mb_note_read(arena, proof.checkpoint, &note, NULL)
        || mb_checkpoint_read(note.text, &checkpoint, NULL, NULL)
        || mb_vkey_read(mb_str_of(key), &vkey, NULL)
        || mb_note_signed_by(&note, &vkey, NULL) != MB_NOTE_SIGNED)
        return false;
    path.count = proof.count;
    memcpy(path.node, proof.nodes, proof.count * sizeof *proof.nodes);
    leaf = mb_leaf_hash(jws);
    return mb_str_equal(checkpoint.origin, vkey.name)
           && mb_merkle_included(proof.index, checkpoint.size, &leaf, &path, &checkpoint.root);
}

static char *swapped(mb_arena *arena, const char *text, const char *from, const char *to)
{
    const char *at = strstr(text, from);

    cr_assert_not_null(at, "%s", from);
    return mb_arena_printf(arena, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
}

Test(sdjwt, the_credential_is_in_its_log_whatever_it_shows)
{
    static const char *const changed[][2] = {
        { "index 1", "index 0" },   { "index 1", "index 2" },
        { "\n3\n", "\n4\n" },       { "dNjgh", "eNjgh" },
        { "GOTkE", "HOTkE" },       { "ledger.example/log\n3", "ledger.example/lot\n3" },
        { "oiPaTO4p", "oiPaTO4q" },
    };
    mb_arena *arena = mb_arena_new();
    struct mb_hash leaf = mb_leaf_hash(MB_STR(OWN_EDDSA));
    struct mb_hash want =
        hash_of_hex("01c47d78484cf1626a5e0f326ec04a8f0ecb7450d9df5363017193bd5feae159");
    mb_secret *other = secret_of_seed(0x40);
    struct mb_vkey vkey =
        mb_vkey_make(MB_STR("ledger.example/log"), MB_VKEY_LOG, mb_secret_key(other));

    cr_expect(mb_hash_equal(&leaf, &want));
    cr_expect(logged(arena, OWN_EDDSA "~" OWN_D1 "~" OWN_D3 "~", log_proof, LOG_VKEY));
    cr_expect(logged(arena, OWN_EDDSA "~", log_proof, LOG_VKEY));
    cr_expect_not(logged(arena, OWN_EDDSA, log_proof, LOG_VKEY), "no ~ behind it");
    cr_expect_not(logged(arena, OWN_ED25519 "~", log_proof, LOG_VKEY), "another signature");
    cr_expect_not(logged(arena, OWN_EDDSA "~", log_proof, mb_vkey_write(arena, &vkey)));
    for (size_t i = 0; i < sizeof changed / sizeof changed[0]; i++)
        cr_expect_not(logged(arena, OWN_EDDSA "~",
                             swapped(arena, log_proof, changed[i][0], changed[i][1]), LOG_VKEY),
                      "%s for %s", changed[i][1], changed[i][0]);
    mb_secret_free(other);
    mb_arena_free(arena);
}
