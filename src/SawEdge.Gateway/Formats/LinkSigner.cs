using System.Buffers.Binary;
using System.Buffers.Text;
using System.Diagnostics.CodeAnalysis;
using System.Security.Cryptography;
using System.Text;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Formats;

/// <summary>What a link in a message stands for: one answer to one alarm by one contact.</summary>
/// <param name="Alarm">Number of the alarm.</param>
/// <param name="Action">The answer, one of <see cref="LinkSigner.Actions"/>.</param>
/// <param name="Contact">Name of the contact that the message went to.</param>
/// <param name="Expires">Until when it can be used, whole seconds.</param>
/// <param name="Nonce">Tells this link from every other, so that it can be used once: 24 hexadecimal digits.</param>
public sealed record AnswerLink(long Alarm, AlarmAction Action, string Contact, DateTimeOffset Expires, string Nonce);

/// <summary>
/// Links that people answer alarms with from a message. A link carries all that it stands for, and a signature (HMAC-SHA256) over it with
/// a key that only this gateway has: base64url of version, action, number, expiry, nonce and contact, then the signature. Nobody can make
/// or change one without the key; whether it was used before is for the one who takes it to remember, by its nonce.
/// </summary>
public sealed class LinkSigner
{
    /// <summary>Name of the file in the data folder that holds the key.</summary>
    public const string FileName = "links.key";

    /// <summary>What stands before the token in the address of a link, after the public address of the gateway.</summary>
    public const string Path = "answer/";

    /// <summary>The longest token that is looked at, characters.</summary>
    public const int LongestToken = 1024;

    /// <summary>How long a link of <see cref="AlarmAction.Shelve"/> puts an alarm aside.</summary>
    public static readonly TimeSpan ShelfTime = TimeSpan.FromHours(8);

    private const byte Version = 1;
    private const int KeyLength = 32;
    private const int NonceLength = 12;
    private const int HeadLength = 1 + 1 + 8 + 8 + NonceLength;
    private const string Damaged = "This link is damaged or was not made by this gateway. Use the link as it stands in the message, or answer with 'sawedge alarm'.";

    private static readonly UTF8Encoding Strict = new(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true);

    private readonly byte[] _key;

    /// <summary>A signer with a key.</summary>
    /// <param name="key">32 random bytes.</param>
    public LinkSigner(ReadOnlySpan<byte> key)
    {
        if (key.Length != KeyLength)
            throw new ArgumentException($"A key has {KeyLength} bytes.", nameof(key));
        _key = key.ToArray();
    }

    /// <summary>What a link can say: acknowledge, shelve for <see cref="ShelfTime"/>, confirm, reject.</summary>
    public static IReadOnlyList<AlarmAction> Actions { get; } = [AlarmAction.Acknowledge, AlarmAction.Shelve, AlarmAction.Confirm, AlarmAction.Reject];

    /// <summary>The signer of a data folder; its key is made when it is first asked for.</summary>
    /// <param name="dataFolder">The folder; must exist.</param>
    /// <exception cref="IOException">The key cannot be read or made; the message says what would help.</exception>
    public static LinkSigner Open(string dataFolder)
    {
        var path = System.IO.Path.Combine(dataFolder, FileName);
        try
        {
            if (!File.Exists(path))
                Create(path);
            var key = File.ReadAllBytes(path);
            if (key.Length != KeyLength)
                throw new IOException($"'{path}' is no key of this program. Delete it: a new one is made, and links sent before are of no use any more.");
            // Whoever can read the key can answer alarms in anybody's name.
            if (!OperatingSystem.IsWindows() && (File.GetUnixFileMode(path) & ~(UnixFileMode.UserRead | UnixFileMode.UserWrite)) != 0)
                File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite);
            return new LinkSigner(key);
        }
        catch (UnauthorizedAccessException e)
        {
            throw new IOException($"The key '{path}' cannot be used: {e.Message} Give the gateway's user the right to read and write it.", e);
        }
    }

    /// <summary>Makes the token of a link.</summary>
    /// <param name="alarm">Number of the alarm.</param>
    /// <param name="action">The answer, one of <see cref="Actions"/>.</param>
    /// <param name="contact">Name of the contact.</param>
    /// <param name="expires">Until when it can be used.</param>
    /// <returns>Letters, digits, <c>-</c> and <c>_</c> only.</returns>
    public string Sign(long alarm, AlarmAction action, string contact, DateTimeOffset expires)
    {
        if (!Actions.Contains(action))
            throw new ArgumentOutOfRangeException(nameof(action), action, "There is no link for this.");
        var name = Encoding.UTF8.GetBytes(contact);
        var token = new byte[HeadLength + name.Length + HMACSHA256.HashSizeInBytes];
        token[0] = Version;
        token[1] = (byte)action;
        BinaryPrimitives.WriteInt64BigEndian(token.AsSpan(2), alarm);
        BinaryPrimitives.WriteInt64BigEndian(token.AsSpan(10), expires.ToUnixTimeSeconds());
        RandomNumberGenerator.Fill(token.AsSpan(18, NonceLength));
        name.CopyTo(token, HeadLength);
        HMACSHA256.HashData(_key, token.AsSpan(..^HMACSHA256.HashSizeInBytes), token.AsSpan(^HMACSHA256.HashSizeInBytes..));
        return Base64Url.EncodeToString(token);
    }

    /// <summary>Reads a token.</summary>
    /// <param name="token">What came; may be anything.</param>
    /// <param name="now">The time.</param>
    /// <param name="link">What it stands for.</param>
    /// <param name="problem">Why it does not hold, a sentence for the person who used it.</param>
    /// <returns>Whether it is one of this gateway's links, unchanged and not expired.</returns>
    public bool TryRead(string token, DateTimeOffset now, [NotNullWhen(true)] out AnswerLink? link, [NotNullWhen(false)] out string? problem)
    {
        link = null;
        problem = Damaged;
        if (token.Length > LongestToken || !Base64Url.IsValid(token))
            return false;
        var bytes = Base64Url.DecodeFromChars(token);
        if (bytes.Length < HeadLength + HMACSHA256.HashSizeInBytes)
            return false;
        var signed = bytes.AsSpan(..^HMACSHA256.HashSizeInBytes);
        Span<byte> expected = stackalloc byte[HMACSHA256.HashSizeInBytes];
        HMACSHA256.HashData(_key, signed, expected);
        // The spelling is held to as well: spaces and unused bits would give one link many tokens.
        if (!CryptographicOperations.FixedTimeEquals(expected, bytes.AsSpan(^HMACSHA256.HashSizeInBytes..)) || Base64Url.EncodeToString(bytes) != token || signed[0] != Version)
            return false;

        var expires = DateTimeOffset.FromUnixTimeSeconds(BinaryPrimitives.ReadInt64BigEndian(signed[10..]));
        if (now >= expires)
        {
            problem = "This link has expired. Answer with 'sawedge alarm', or wait for a reminder.";
            return false;
        }

        link = new AnswerLink(BinaryPrimitives.ReadInt64BigEndian(signed[2..]), (AlarmAction)signed[1], Strict.GetString(signed[HeadLength..]), expires, Convert.ToHexStringLower(signed.Slice(18, NonceLength)));
        problem = null;
        return true;
    }

    private static void Create(string path)
    {
        // Under another name first: a loss of power must not leave half a key.
        var draft = $"{path}.{Guid.NewGuid():N}";
        var options = new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write };
        if (!OperatingSystem.IsWindows())
            options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        using (var stream = new FileStream(draft, options))
        {
            stream.Write(RandomNumberGenerator.GetBytes(KeyLength));
            stream.Flush(flushToDisk: true);
        }

        try
        {
            File.Move(draft, path);
        }
        catch (IOException) when (File.Exists(path))
        {
            // Another part of the gateway was faster; its key is the one.
            File.Delete(draft);
        }
    }
}
