using System.CommandLine;
using System.Text.Json;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Tokens;

/// <summary><c>token make | list | revoke</c>: who may use page and API from elsewhere. Works beside a running gateway. Exit codes: <see cref="ExitCodes"/>.</summary>
public static class TokenCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time) =>
        new("token", "Tokens, by which people and programs use page and API from elsewhere: make one, list them, revoke one. Works beside a running gateway.")
        {
            Make(environment, time), List(environment, time), Revoke(environment, time),
        };

    private static Command Make(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var name = Name("Its name, by which the audit trail knows whoever uses it.");
        var role = new Option<string>("--role") { Description = "What it allows: view; operate (acknowledge alarms, enter reasons, scrap and blades, too); administer (see the audit trail, too).", Required = true, HelpName = "ROLE" };
        role.AcceptOnlyFromAmong([.. ApiToken.Roles]);
        var valid = new Option<string?>("--valid-for") { Description = "For how long it holds, for example \"90 days\"; until it is revoked unless told.", HelpName = "TIME" };
        return Build("make", "Make a token. It is shown this once: the gateway keeps only its hash.", environment, [name, role, valid], async (folder, arguments, console, _) =>
        {
            var (called, allows) = (Clean(arguments.GetRequiredValue(name)), arguments.GetRequiredValue(role));
            var expires = Expires(arguments.GetValue(valid), time);
            if (!File.Exists(Path.Combine(folder.Folder, HistoryDatabase.FileName)))
                HistoryDatabase.Open(folder.Folder).Dispose();
            var token = ApiToken.Make();
            var audit = new AuditEntry(Environment.UserName, AuditEntry.Command, "token.make", called, EntryRows.Detail([("role", allows), ("expires", expires is { } end ? ApiJson.Moment(end) : null)]));
            if (!TokenRows.Make(folder.Folder, called, allows, ApiToken.Hash(token), expires, audit, time.GetUtcNow()))
                throw new CommandException($"There is a token {Words.Quoted(called)} already; choose another name, or revoke that one first with 'sawedge token revoke'.");
            var until = expires is { } last ? $" until {new MomentText(folder.At(time)).Of(last)}" : "";
            await console.Error.WriteLineAsync($"Token {Words.Quoted(called)} for the role {allows} holds{until}. It is shown this once; whoever has it can use it:");
            await console.Output.WriteLineAsync(token);
        });
    }

    private static Command List(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var all = new Option<bool>("--all") { Description = "Those that do not hold any more as well." };
        var json = new Option<bool>("--json") { Description = "Print JSON." };
        return Build("list", "List the tokens: name, role, when made, until when. The tokens themselves are nowhere.", environment, [all, json], async (folder, arguments, console, cancellation) =>
        {
            var now = time.GetUtcNow();
            var tokens = (await folder.Open().TokensAsync(cancellation)).Where(token => arguments.GetValue(all) || Holds(token, now)).ToList();
            if (arguments.GetValue(json))
            {
                await console.Output.WriteLineAsync(JsonSerializer.Serialize(tokens.Select(token => new { token.Name, token.Role, token.MadeAt, token.ExpiresAt, token.RevokedAt }), ApiJson.Options));
                return;
            }

            var moments = new MomentText(folder.At(time));
            if (tokens.Count == 0)
                await console.Output.WriteLineAsync("There is no token; 'sawedge token make NAME --role view' makes one.");
            foreach (var token in tokens)
            {
                var end = token.RevokedAt is { } revoked ? $"revoked {moments.Of(revoked)}" : token.ExpiresAt is { } expires ? $"{(expires > now ? "until" : "expired")} {moments.Of(expires)}" : "until it is revoked";
                await console.Output.WriteLineAsync($"{token.Name,-24} {token.Role,-10} made {moments.Of(token.MadeAt)}, {end}");
            }
        });
    }

    private static Command Revoke(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var name = Name("Its name, as 'token list' shows it.");
        return Build("revoke", "Revoke a token: from now on it is refused.", environment, [name], async (folder, arguments, console, _) =>
        {
            var called = Clean(arguments.GetRequiredValue(name));
            if (!TokenRows.Revoke(folder.Folder, called, new AuditEntry(Environment.UserName, AuditEntry.Command, "token.revoke", called), time.GetUtcNow()))
                throw new CommandException($"There is no token {Words.Quoted(called)} that holds; 'sawedge token list' shows them.");
            await console.Output.WriteLineAsync($"Token {Words.Quoted(called)} is revoked.");
        });
    }

    private static bool Holds(StoredToken token, DateTimeOffset now) => token.RevokedAt is null && (token.ExpiresAt is not { } expires || expires > now);

    private static DateTimeOffset? Expires(string? written, TimeProvider time)
    {
        if (written is null)
            return null;
        return MomentText.Span(written) is { } span && span > TimeSpan.Zero
            ? time.GetUtcNow() + span
            : throw new CommandException($"--valid-for '{written}' is no time; write for example \"90 days\".");
    }

    private static string Clean(string written)
    {
        var name = ControllerText.Clean(written).Trim();
        return name.Length is > 0 and <= ValueTypes.LongestName ? name : throw new CommandException(FormattableString.Invariant($"The name of a token has 1 to {ValueTypes.LongestName} characters; write for example \"office\"."));
    }

    private static Argument<string> Name(string description) => new("name") { Description = description, HelpName = "NAME" };

    private static Command Build(string name, string description, IReadOnlyDictionary<string, string> environment, IReadOnlyList<Symbol> symbols, Func<NamedFolder, ParseResult, InvocationConfiguration, CancellationToken, Task> run)
    {
        var folder = new DataFolderOptions();
        var command = new Command(name, description);
        foreach (var symbol in symbols)
        {
            if (symbol is Argument argument)
                command.Arguments.Add(argument);
            else if (symbol is Option option)
                command.Options.Add(option);
        }

        folder.AddTo(command, units: false);
        command.SetAction((arguments, cancellation) => DataFolderOptions.RunAsync(arguments.InvocationConfiguration.Error, async () =>
        {
            await run(folder.Read(arguments, environment), arguments, arguments.InvocationConfiguration, cancellation);
            return ExitCodes.Done;
        }, cancellation));
        return command;
    }
}
