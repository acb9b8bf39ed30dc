using System.Globalization;
using System.IO.Ports;
using System.Net.Sockets;
using System.Reflection;
using System.Runtime.InteropServices;

namespace SawEdge.Modbus;

/// <summary>A serial line of this machine.</summary>
/// <remarks>
/// System.IO.Ports looks for bytes in a loop that wakes once a millisecond, so that an exchange takes two and more; here it only opens the
/// line and sets it up. On Linux bytes go through a duplicate of its handle in the runtime's own waiting for sockets, which takes anything that can be
/// polled: thirty times as many exchanges a second on a pseudo terminal, and no allocation.
/// </remarks>
internal sealed class SerialTransport : RtuTransport
{
    // LOCK_EX | LOCK_NB and F_DUPFD_CLOEXEC of Linux. A program that this one starts must not hold the line by inheritance.
    private const int ExclusiveNonBlocking = 2 | 4;
    private const int DuplicateClosedInChildren = 1030;

    private readonly ModbusSerialOptions _options;
    private readonly bool _isFast;

    /// <summary>Prepares to open a line.</summary>
    /// <param name="options">The line.</param>
    /// <param name="isFast">Whether bytes go past System.IO.Ports, which only Linux can.</param>
    /// <exception cref="ArgumentException">An option is out of its range.</exception>
    public SerialTransport(ModbusSerialOptions options, bool isFast)
    {
        ArgumentException.ThrowIfNullOrWhiteSpace(options.Line);
        ArgumentOutOfRangeException.ThrowIfLessThan(options.Baud, 300);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(options.Baud, 4_000_000);
        if (!Enum.IsDefined(options.Parity))
            throw new ArgumentOutOfRangeException(nameof(options), options.Parity, "The parity is one of none, odd and even.");
        ArgumentOutOfRangeException.ThrowIfLessThan(options.EffectiveStopBits, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(options.EffectiveStopBits, 2);
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(options.ResponseTimeout, TimeSpan.Zero);
        ArgumentOutOfRangeException.ThrowIfLessThan(options.Pause, TimeSpan.Zero);
        _options = options;
        _isFast = isFast;
    }

    public override string Endpoint => _options.Line;

    public override TimeSpan ResponseTimeout => _options.ResponseTimeout;

    public override TimeSpan Pause => _options.Pause > _options.Silence ? _options.Pause : _options.Silence;

    // Opening a line drops its control signals for a moment, which resets some devices; a silent unit is no reason to.
    public override bool ReopensAfterTrouble => false;

    public override string NoAnswerAdvice => ModbusAdvice.SerialNoAnswer;

    public override string NoAnswerOfOursAdvice => ModbusAdvice.SerialNoAnswerOfOurs;

    public override TimeSpan TimeOf(int bytes) => _options.TimeOf(bytes);

    public override async ValueTask<IByteLine> OpenAsync(ReadRequest? request, CancellationToken cancellation)
    {
        cancellation.ThrowIfCancellationRequested();
        try
        {
            // A driver may keep the caller waiting.
            return await Task.Run(Open, CancellationToken.None);
        }
        catch (Exception e) when (IsLoss(e) || e is ArgumentException or InvalidOperationException)
        {
            throw new ModbusConnectionException(Endpoint, request, Explain(e), e);
        }
    }

    public override string ExplainLoss(Exception? reason) => $"the serial line was lost. Check that its adapter is plugged in. {SerialLines.Sentence()}";

    private IByteLine Open()
    {
        var port = new SerialPort(_options.Line, _options.Baud, PortParity(_options.Parity), 8, _options.EffectiveStopBits == 1 ? StopBits.One : StopBits.Two);
        try
        {
            port.Open();
            RaiseSignals(port);
            return _isFast && Handle(port) is { } handle ? Fast(port, handle) : new StreamByteLine(port);
        }
        catch
        {
            port.Dispose();
            throw;
        }
    }

    private static void RaiseSignals(SerialPort port)
    {
        try
        {
            // Adapters without a supply of their own live on these signals.
            port.DtrEnable = true;
            port.RtsEnable = true;
        }
        catch (IOException) when (OperatingSystem.IsLinux())
        {
            // A pseudo terminal, and many a line on a board, has no such signals.
        }
    }

    private static SocketByteLine Fast(SerialPort port, int handle)
    {
        // System.IO.Ports has claimed the line for itself, which does not hold against the superuser; this does.
        if (LockFile(handle, ExclusiveNonBlocking) != 0)
            throw new UnauthorizedAccessException("Another process has locked the line.");
        var duplicate = ControlFile(handle, DuplicateClosedInChildren, 0);
        if (duplicate < 0)
            throw new IOException($"The line's handle cannot be duplicated (error {Marshal.GetLastPInvokeError()}).");
        return new SocketByteLine(new Socket(new SafeSocketHandle(duplicate, ownsHandle: true)), port);
    }

    /// <summary>The descriptor behind a port: private to the pinned version of the package; without it bytes go through the port.</summary>
    private static int? Handle(SerialPort port) =>
        port.BaseStream.GetType().GetField("_handle", BindingFlags.NonPublic | BindingFlags.Instance)?.GetValue(port.BaseStream) is SafeHandle handle
            ? (int)handle.DangerousGetHandle()
            : null;

    private string Explain(Exception e)
    {
        if (OperatingSystem.IsLinux() && !File.Exists(_options.Line))
            return $"there is no such serial line. Check that its adapter is plugged in. {SerialLines.Sentence()}";
        return e switch
        {
            UnauthorizedAccessException when OperatingSystem.IsLinux() =>
                "the serial line may not be opened. Check that no other program holds it, and that the service's user is in the group that owns it, mostly dialout.",
            UnauthorizedAccessException => "the serial line may not be opened. Check that no other program holds it.",
            ArgumentException or InvalidOperationException => string.Create(CultureInfo.InvariantCulture, $"this is no serial line, or it cannot be set to {_options.Baud} bit/s ({e.Message}). {SerialLines.Sentence()}"),
            _ => $"the serial line cannot be opened ({e.Message}). Check that it is a serial line and its adapter plugged in. {SerialLines.Sentence()}",
        };
    }

    private static Parity PortParity(SerialParity parity) => parity switch
    {
        SerialParity.None => Parity.None,
        SerialParity.Odd => Parity.Odd,
        _ => Parity.Even,
    };

    [DllImport("libc", EntryPoint = "flock", SetLastError = true)]
    private static extern int LockFile(int handle, int operation);

    [DllImport("libc", EntryPoint = "fcntl", SetLastError = true)]
    private static extern int ControlFile(int handle, int command, int argument);
}
